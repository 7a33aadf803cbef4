"""From presses of keys to taps: whose they are, which of them are meant, and numbers typed.

A terminal tells no press from a key held down: a held key comes again after a delay of 0.2 to 1 s
and then evenly, 8 to 60 times a second (usual settings; from memory). So a press `DELAY_S` to
`STILL_S` after the one before is suspect, and so are those after it until the key has been still
for `STILL_S`. A suspect press is no tap if another follows within `REPEAT_S`, nor is that one. A
press is handed out as a tap once `REPEAT_S` has passed. Of other presses within `BOUNCE_S` the
first is a tap: a switch bounces, a finger is slower. Two quick taps after a rest are always two.

What timing alone cannot tell: a key let go between its first and its second repeat makes two taps;
two taps within `REPEAT_S` of each other, less than `STILL_S` after a third, are taken for a held
key and lost; a keyboard set to repeat more slowly than 8 times a second makes taps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from coach.problems import Problem
from coach.taps.order import KEYS, TALK
from coach.taps.timing import BOUNCE_S
from coach.words import name as tidied

REPEAT_S = 0.125
"""The longest that keyboards usually wait between two repeats."""

DELAY_S = 0.18
"""The shortest that keyboards wait before the first repeat, less what a busy machine may take."""

STILL_S = 1.1
"""The longest, and a little more."""

TYPING_S = 0.7
"""A digit so soon after the one before belongs to the same number."""

DIGITS = 4
"""No number that is asked for has more: 1,200 tens are 12,000 feet."""

TENS = 10
"""A number is typed in tens: 3 is 30 degrees of bank, 11 is 110 knots."""

ALONE = "space"
"""The key of a student who is alone at the keyboard."""

TAKEN = (*KEYS, TALK)
"""Keys that mean something else to the coach."""


@dataclass(frozen=True)
class Press:
    """One key.

    Attributes:
        key: ``"space"``, ``"p"``, ``"enter"``...; ``"ctrl-c"``; ``"ctrl-z"``, read once the program
            goes on after it; ``"closed"`` when the terminal is gone or the program is told to end.
        at: ``time.perf_counter()`` when it arrived.
    """

    key: str
    at: float


class Keyboard(Protocol):
    """Where key presses come from: `coach.terminal.keys.Keys`, or anything alike."""

    def presses(self) -> list[Press]:
        """What was pressed since the last call, each with its time on `time.perf_counter`."""


@dataclass(frozen=True)
class Stroke:
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
        name = tidied(name, "A name")
        key = key.lower()
        if len(key) != 1 or not key.isalpha() or key in TAKEN:
            free = f"one letter other than {', '.join(TAKEN)}"
            raise Problem(f"{name}: found the key '{key}', expected {free}.")
        if key in found:
            raise Problem(
                f"The key '{key}' is given twice, to {found[key]} and to {name}: each needs one."
            )
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
        suspect: the last press that was no bounce may be a repeat.
    """

    pressed: float = -math.inf
    waiting: float | None = None
    suspect: bool = False


class Hands:
    """The hands on one keyboard."""

    def __init__(self, students: Mapping[str, str], *, numbers: bool = False) -> None:
        """Watch some keys.

        Args:
            students: each student's name by key.
            numbers: whether digits are numbers; never where several students share the keyboard,
                as nobody could tell whose they are.
        """
        self._students = students
        self._numbers = numbers and len(students) == 1
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
        if held.suspect and since < REPEAT_S:
            held.waiting = None
        elif since >= BOUNCE_S:
            if held.waiting is not None:
                self._certain.append((held.waiting, key))
            held.waiting = at
            held.suspect = since < STILL_S and (since >= DELAY_S or held.suspect)
        return True

    def taken(self, now: float) -> list[Stroke]:
        """What has become certain and was not handed out before, by its time.

        A number is handed out up to a second after taps that were pressed while it was typed.

        Args:
            now: a time up to which every press was handed over. Read the clock before fetching
                presses, not after: one still on its way would show what the last one was.
        """
        for key, held in self._keys.items():
            if held.waiting is not None and now - held.waiting >= REPEAT_S:
                self._certain.append((held.waiting, key))
                held.waiting = None
        certain = sorted(one for one in self._certain if now - one[0] >= REPEAT_S)
        self._certain = [one for one in self._certain if now - one[0] < REPEAT_S]
        found: list[Stroke] = []
        for at, key in certain:
            if self._is_digit(key):
                if at - self._typed[1] > TYPING_S or len(self._digits) == DIGITS:
                    found += self._number()
                self._typed = (self._typed[0] if self._digits else at, at)
                self._digits += key
            else:
                found.append(Stroke(self._students[key], at))
        # A digit pressed just now is not certain yet, and may still belong to the number.
        if now - REPEAT_S - self._typed[1] > TYPING_S:
            found += self._number()
        return sorted(found, key=lambda press: press.at)

    def forget(self) -> None:
        """Drop what is not certain: the run starts over."""
        self._keys.clear()
        self._certain.clear()
        self._digits = ""

    def _is_digit(self, key: str) -> bool:
        return self._numbers and len(key) == 1 and key in "0123456789"

    def _number(self) -> list[Stroke]:
        """The number typed so far, if any, which is over."""
        if not self._digits:
            return []
        value, self._digits = float(TENS * int(self._digits)), ""
        (student,) = self._students.values()
        return [Stroke(student, self._typed[0], value)]
