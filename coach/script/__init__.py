"""What is flown: a YAML maneuver script, read and checked into a `Maneuver`."""
