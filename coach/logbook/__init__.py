"""What is kept: every run with its taps, on disk the moment they are made."""
