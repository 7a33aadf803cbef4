"""What the figures in a transcript may have been as words.

A transcript has "102 knots" for "one hundred two knots" as for "one oh two", and "270" for
"two seven zero": what was said is one of few ways, and the sounds will tell which.
"""

from __future__ import annotations

import re
from itertools import islice, product

from coach.callouts.figures import say_number

MOST = 12
"""Readings of one transcript; a phrase has two or three figures in it."""

_SIGNS = {"°": " degrees ", "%": " percent ", "&": " and ", "+": " plus "}
_UNITS = {"kt": "knots", "kts": "knots", "ft": "feet", "deg": "degrees", "degs": "degrees"}
_PIECE = re.compile(r"\d+|[^\W\d_]+(?:'[^\W\d_]+)*")


def readings(text: str) -> tuple[tuple[str, ...], ...]:
    """The words of a transcript, once for each way of reading its figures.

    Args:
        text: as it is written, with figures and punctuation.

    Returns:
        Rows of words in lower case; the likeliest first, `MOST` at most. None of them where there
        are no words in the text.
    """
    plain = text.lower()
    for sign, words in _SIGNS.items():
        plain = plain.replace(sign, words)
    plain = re.sub(r"(?<=\d),(?=\d{3})", "", plain)
    plain = re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", plain)
    plain = re.sub(r"(?<=\d)\.(?=\d)", " point ", plain)
    # "2-7-0" was said figure by figure.
    plain = re.sub(r"\b\d(?:[- ]\d\b)+", lambda found: re.sub(r"[- ]", "", found.group()), plain)
    ways = [_ways(piece) for piece in _PIECE.findall(plain)]
    rows = (sum(row, ()) for row in product(*ways))
    return tuple(islice(dict.fromkeys(filter(None, rows)), MOST))


def _ways(piece: str) -> tuple[tuple[str, ...], ...]:
    if not piece.isdecimal():
        return ((_UNITS.get(piece, piece),),)
    piece = "".join(str(int(figure)) for figure in piece)
    singly = tuple(say_number(int(figure)) for figure in piece)
    if piece[0] == "0" or len(piece) > 5:
        return (singly,)
    found = [tuple(say_number(int(piece)).split()), singly]
    if len(piece) in (3, 4) and piece[-2] != "0":
        pairs = (piece[:-2], piece[-2:])
        found.insert(1, tuple(" ".join(say_number(int(pair)) for pair in pairs).split()))
    elif len(piece) == 4 and piece[-2:] == "00" and piece[1] != "0":
        found.insert(1, (*say_number(int(piece[:2])).split(), "hundred"))
    return tuple(dict.fromkeys(found))
