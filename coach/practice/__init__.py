"""What to rehearse next, from what was rehearsed so far."""
