"""From presses of keys to taps: whose they are, which of them are meant, and numbers typed.

A terminal tells no press from a key held down: a held key comes again after 0.2 to 1 s and then
every 20 to 60 ms. A finger cannot press so fast, so presses of one key that follow each other
within `REPEAT_S` are a key held down, or a bouncing one. The first repeat of a held key comes late
enough to pass for a second tap; the next one shows what it is. So a press is a tap only once
`REPEAT_S` has passed, and only if no other press of its key came meanwhile, or if the key had been
still for `STILL_S` before it. What this cannot tell: whoever taps the same key twice within a
second and lets it bounce the second time loses the second tap.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from coach.problems import Problem

REPEAT_S = 0.08
"""The fastest that fingers tap is about 10 times a second (common practice, no source)."""

STILL_S = 1.0
"""The longest that keyboards wait before they repeat a held key."""

TYPING_S = 0.7
"""A digit so soon after the one before belongs to the same number."""

TENS = 10
"""A number is typed in tens: 3 is 30 degrees of bank, 11 is 110 knots."""

ALONE = "space"
"""The key of a student who is alone at the keyboard."""

TAKEN = ("p", "r", "q", "v")
"""Keys that mean something else to the coach."""


@dataclass(frozen=True)
class Press:
    """A tap, or a number typed, before it is put on the flight's clock.

    Attributes:
        student: whose, "" for a student without a name.
        at: when, on the clock of the presses; of a number, its first digit.
        value: the number, in the unit of what is asked; None for a plain tap.
    """

    student: str
    at: float
    value: float | None = None


def tappers(written: str) -> dict[str, str]:
    """Whose key is which, from ``"Ada=a, Bo=l"``.

    Returns:
        The student's name by key.

    Raises:
        Problem: a name without a key, a key that is not one letter or that the coach needs, a name
            or a key that stands there twice.
    """
    found: dict[str, str] = {}
    for part in written.split(","):
        name, equals, key = (word.strip() for word in part.partition("="))
        if not (name and equals and key):
            raise Problem(f"Found '{part.strip()}', expected NAME=KEY such as Ada=a.")
        key = key.lower()
        if len(key) != 1 or not key.isalpha() or key in TAKEN:
            free = f"one letter other than {', '.join(TAKEN)}"
            raise Problem(f"{name}: found the key '{key}', expected {free}.")
        if key in found:
            raise Problem(f"The key '{key}' is {found[key]}'s, and {name} needs one too.")
        if name in found.values():
            raise Problem(f"{name} stands there twice.")
        found[key] = name
    return found


@dataclass
class _Key:
    """What is known of one key.

    Attributes:
        pressed: when it was last pressed.
        waiting: a press that is not certain yet.
        fresh: the key had been still before that.
    """

    pressed: float = -math.inf
    waiting: float | None = None
    fresh: bool = True


class Hands:
    """The hands on one keyboard."""

    def __init__(self, students: Mapping[str, str], *, numbers: bool = False) -> None:
        """Watch some keys.

        Args:
            students: each student's name by key.
            numbers: whether digits are numbers, typed by the only student.
        """
        self._students = students
        self._numbers = numbers
        self._keys: dict[str, _Key] = {}
        self._certain: list[tuple[float, str]] = []
        self._digits = ""
        self._typed = (0.0, 0.0)

    def press(self, key: str, at: float) -> bool:
        """A key was pressed; presses come in the order of their time.

        Returns:
            Whether the key is a student's.
        """
        if key not in self._students and not self._is_digit(key):
            return False
        held = self._keys.setdefault(key, _Key())
        since, held.pressed = at - held.pressed, at
        if since >= REPEAT_S:
            if held.waiting is not None:
                self._certain.append((held.waiting, key))
            held.waiting, held.fresh = at, since >= STILL_S
        elif not held.fresh:
            held.waiting = None
        return True

    def taken(self, now: float) -> list[Press]:
        """What has become certain by ``now`` and was not handed out before, by its time."""
        for key, held in self._keys.items():
            if held.waiting is not None and now - held.waiting >= REPEAT_S:
                self._certain.append((held.waiting, key))
                held.waiting = None
        certain, self._certain = sorted(self._certain), []
        found: list[Press] = []
        for at, key in certain:
            if self._is_digit(key):
                found += self._number(at)
                self._typed = (self._typed[0] if self._digits else at, at)
                self._digits += key
            else:
                found.append(Press(self._students[key], at))
        return sorted(found + self._number(now - REPEAT_S), key=lambda press: press.at)

    def forget(self) -> None:
        """Drop what is not certain: the run starts over."""
        self._keys.clear()
        self._certain.clear()
        self._digits = ""

    def _is_digit(self, key: str) -> bool:
        return self._numbers and len(key) == 1 and key in "0123456789"

    def _number(self, now: float) -> list[Press]:
        """The number typed, once no digit can follow it."""
        if not self._digits or now - self._typed[1] <= TYPING_S:
            return []
        value, self._digits = float(TENS * int(self._digits)), ""
        (student,) = set(self._students.values())
        return [Press(student, self._typed[0], value)]
