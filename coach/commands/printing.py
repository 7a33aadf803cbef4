"""Where the commands print what is more than a line."""

from __future__ import annotations

from rich.console import Console


def console(*, stderr: bool = False) -> Console:
    """The terminal, on which a name shows as it is written, brackets and colons included."""
    return Console(stderr=stderr, highlight=False, markup=False, emoji=False)
