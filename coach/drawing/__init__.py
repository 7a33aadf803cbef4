"""Every picture, and the report."""
