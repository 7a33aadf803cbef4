"""What to learn from a run: values and words."""
