"""The pace of a rehearsal: 1 is the airplane's own tempo, 0.5 half of it."""

WORDS = {
    0.5: "half",
    0.75: "three quarters",
    1.0: "the airplane’s own",
    1.25: "a quarter faster",
    1.5: "half as fast again",
}
"""The paces that the page offers, from the slowest, in words."""

LEAST, MOST = min(WORDS), max(WORDS)
"""What may be chosen, on the command line, on the page and in a warm-up."""
