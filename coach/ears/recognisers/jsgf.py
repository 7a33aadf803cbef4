"""The right-hand sides of JSGF's rules, taken apart (https://www.w3.org/TR/jsgf/, from memory)."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

VOID = "<VOID>"
"""The rule that nobody can say."""

_TOKEN = re.compile(r"/[\d.]+/|<\w+>|[][()|]|[\w']+")


@dataclass(frozen=True, eq=False)
class Piece:
    """A part of a rule.

    Attributes:
        kind: a word, a rule, a row of pieces one after the other, or a choice of one of them.
        name: the word, or the rule's name in its brackets.
        parts: of the row or the choice; an empty row is what may be left out.
        unusual: of each of a choice's parts, the negative logarithm of its weight.
    """

    kind: Literal["word", "rule", "row", "choice"]
    name: str = ""
    parts: tuple[Piece, ...] = ()
    unusual: tuple[float, ...] = ()


@lru_cache(4096)
def piece(rule: str) -> Piece:
    """A rule's right-hand side; the same value for the same text."""
    return _choice(iter(_TOKEN.findall(rule)))


def _choice(tokens: Iterator[str]) -> Piece:
    """What stands up to the closing bracket, or to the end."""
    rows: list[list[Piece]] = [[]]
    unusual = [0.0]
    for token in tokens:
        if token in ("]", ")"):
            if token == "]":
                rows.append([])
                unusual.append(0.0)
            break
        if token == "|":
            rows.append([])
            unusual.append(0.0)
        elif token in ("(", "["):
            rows[-1].append(_choice(tokens))
        elif token[0] == "/":
            unusual[-1] -= math.log(max(1e-9, float(token.strip("/"))))
        else:
            rows[-1].append(Piece("rule" if token[0] == "<" else "word", token))
    parts = tuple(row[0] if len(row) == 1 else Piece("row", parts=tuple(row)) for row in rows)
    if len(parts) == 1 and not unusual[0]:
        return parts[0]
    return Piece("choice", parts=parts, unusual=tuple(unusual))
