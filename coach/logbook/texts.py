"""The names and other texts of runs: taken in, mended in the file, and read back."""

from __future__ import annotations

import functools

from coach.words import plain, shown

UNSHOWN = "\N{REPLACEMENT CHARACTER}"
"""Stands for a text of which nothing can be shown; an empty one would be nobody's."""


def taken(text: str) -> str:
    """A text from outside as it is kept.

    Raises:
        ValueError: it holds a control character, or half a character; the sentence names it.
    """
    return plain(text) or (UNSHOWN if text else "")


@functools.lru_cache(10_000)  # a logbook has few names, many times
def mended(found: object) -> str:
    """What an earlier coach wrote, as `taken` has it; what cannot be shown is left out."""
    return taken(read(found))


def read(found: object) -> str:
    """What stands in the file as it can be shown, even if it is no text."""
    return shown(found.decode("utf-8", "replace") if isinstance(found, bytes) else str(found))
