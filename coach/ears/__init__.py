"""The student's own callouts: heard, recognised, and held against what the flight asks for."""
