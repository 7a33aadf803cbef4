"""Where the command begins: even while the rest is still being read, Ctrl-C is answered."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command ``coach``, which ``python -m coach`` is as well."""
    try:
        from coach.commands.cli import main as command
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        sys.exit(130)
    command()


if __name__ == "__main__":
    main()
