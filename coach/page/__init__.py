"""The page: rehearse alone, or a room of students together, in the browser."""
