"""A stretch of the flight in which what a student said, or did by hand, was not perceived."""

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
    "the hand was not seen",
]

WHYS: tuple[Why, ...] = get_args(Why)

NOT_SEEN: Why = "the hand was not seen"
"""As a stretch it is a whole run, flown with a phone of which nothing was read; where a hand was
seen, its own gaps tell where it was not."""


@dataclass(frozen=True)
class Unheard:
    """A stretch of the flight in which what was said, or done by hand, was not perceived.

    Attributes:
        from_s: seconds on the flight's clock.
        to_s: where it is over, on the same clock.
        why: what was in the way.
    """

    from_s: float
    to_s: float
    why: Why
