"""What a student has the coach do while a run goes on: by a key, or by saying "coach" and this."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

Order = Literal["pause", "go on", "start over", "stop"]
"""One of them, in the words that are said."""

ORDERS: tuple[Order, ...] = get_args(Order)

TALK = "v"
"""The key that has the ears hear, where they wait for it."""

KEYS = ("p", "r", "q")
"""The letters that give orders."""

_ALWAYS: Mapping[str, Order] = {"r": "start over", "q": "stop", "ctrl-c": "stop"}


def by_key(key: str, *, paused: bool) -> Order | None:
    """The order that a key gives, or None.

    Args:
        key: its name, as `coach.taps.pressing.Press` has it.
        paused: whether the run is paused: the key that pauses it has it go on as well. A program
            that was halted (Ctrl-Z) comes back paused.
    """
    if key == "p":
        return "go on" if paused else "pause"
    if key == "ctrl-z":
        return None if paused else "pause"
    return _ALWAYS.get(key)
