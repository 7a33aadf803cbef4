"""A stretch of the flight in which what a student said could not be perceived."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Why = Literal[
    "not understood",
    "the coach spoke",
    "the ears were busy",
    "no microphone",
    "the room was loud",
    "nothing was heard",
]

WHYS: tuple[Why, ...] = get_args(Why)


@dataclass(frozen=True)
class Unheard:
    """A stretch of the flight in which what was said could not be perceived.

    Attributes:
        from_s: seconds on the flight's clock.
        to_s: where it is over, on the same clock.
        why: what was in the way.
    """

    from_s: float
    to_s: float
    why: Why
