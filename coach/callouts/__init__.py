"""What is said when: a `Flight` and the voice's phrase lengths become a `CueSheet`."""
