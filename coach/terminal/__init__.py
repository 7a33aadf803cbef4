"""The terminal during a rehearsal: the student's keys, and the screen glanced at."""
