"""What is done to the coach on purpose: ``python -m tests.attack.NAME --seed N --count M``."""
