"""Flights by somebody else's flight model, to hold the coach's own against."""
