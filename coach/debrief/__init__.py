"""What to learn from a run: values, words and a picture."""
