"""What a run needs, the run, and what is kept of it."""
