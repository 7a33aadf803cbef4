"""A phone in the hand as the airplane: how it comes in, and what it tells."""
