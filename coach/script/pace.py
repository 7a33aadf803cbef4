"""The pace of a rehearsal: 1 is the airplane's own tempo, 0.5 half of it."""

LEAST, MOST = 0.5, 1.5
"""What may be chosen, on the command line, on the page and in a warm-up."""
