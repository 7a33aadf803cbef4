"""``python -m coach`` is the command ``coach``."""

from coach.cli import main

main()
