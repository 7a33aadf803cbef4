"""What the student did: taps matched to checkpoints, and the errors in motor learning's words."""
