"""What the coach says when something given to it cannot be used: one clear sentence."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class Problem(Exception):
    """Something the person can put right. Its text is one sentence, printed without a traceback."""


def nearest(word: str, choices: Iterable[str]) -> str:
    """The tail of a sentence that offers valid choices.

    Args:
        word: what was found.
        choices: what would have been accepted.

    Returns:
        ``"; did you mean lazy-eight?"`` where one choice is close, else all of them.
    """
    known = sorted(set(choices))
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.5)
    if close:
        return f"; did you mean {close[0]}?"
    return f"; choose from {', '.join(known)}" if known else ""
