"""``python -m coach`` is the command ``coach``."""

from coach.start import main

main()
