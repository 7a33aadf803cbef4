"""What makes words of a stretch of sound: two recognisers, and which of them hears."""
