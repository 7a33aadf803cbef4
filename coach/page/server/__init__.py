"""Who may connect, and what the server answers with."""
