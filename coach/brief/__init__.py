"""What an instructor puts on the board before a maneuver: a `Flight` as values and words."""
