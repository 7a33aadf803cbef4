"""The numbers that a student may say at a checkpoint, in every wording of theirs.

They are those that are plausible there: the right ones, and the wrong ones that a student might
believe. The wordings are those of the FAA's AIM 4-2-8 to 4-2-11, of ICAO Annex 10 volume II,
5.2.1.4 (both from memory), and of common practice; how much rarer than another one is is a guess of
ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache

from coach.callouts.figures import say_heading, say_number, say_one_by_one, say_turned
from coach.flight.asked import is_right, off, right, true
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked

_FAR = 3.0
_LEAST = 0.2
_POINTS = {360: "north", 90: "east", 180: "south", 270: "west"}


def plausible(moments: Sequence[Moment], index: int) -> dict[Asked, Mapping[str, float]]:
    """The numbers of each quantity that a checkpoint asks for, by their words.

    Args:
        moments: of the whole flight.
        index: of the checkpoint.
    """
    known: dict[Asked, Mapping[str, float]] = {}
    for one, expected in right(moments[index]).items():
        number = ASKED[one]
        own = number.step * round(abs(expected) / number.step)
        # Of two numbers with one wording the nearer one is meant, which is the last one here.
        values = sorted(
            {*_believed(one, moments, index), own} - {0},
            key=lambda value: -off(one, value, abs(expected)),
        )
        figures = {words: float(value) for value in values for words in wordings(one, value)}
        figures |= dict.fromkeys(number.zero, 0.0)
        good = {value for value in figures.values() if is_right(one, value, abs(expected))}
        known[one] = {
            words: value for words, value in figures.items() if _sounds_like(value) not in good
        }
    return known


def likely(quantity: Asked, said: float, expected: float) -> float:
    """How likely a student says a number, against the right one: 1, and less the further off.

    A guess of its shape (a Cauchy curve that falls to half at three tolerances), which keeps
    "fifty" from being heard where fifteen is right, and costs next to nothing close by. It is a
    fifth at least: who takes a wrong turn is 90 degrees off, and has to be heard.
    """
    far = off(quantity, said, expected) / (_FAR * ASKED[quantity].tolerance)
    return max(_LEAST, 1.0 / (1.0 + far**2))


@cache
def wordings(quantity: Asked, value: int) -> Mapping[str, float]:
    """Every wording of a figure, the most usual one first, and how usual it is against that one."""
    found: dict[str, float] = {}
    ways = _course(value) if ASKED[quantity].is_course else _counted(value)
    for words, usual in ways:
        niner = re.sub(r"(?<!ty )\bnine\b", "niner", words)
        found.setdefault(words, usual)
        found.setdefault(niner, 0.5 * usual)
    return found


def _course(value: int) -> Iterator[tuple[str, float]]:
    digits = say_heading(value).spoken
    yield digits, 1.0
    yield digits.replace("zero", "oh"), 0.2
    # 90 is said "ninety", and 270 "two seventy".
    yield say_turned(value), 0.5 if value > 100 else 0.2
    if value in _POINTS:
        yield _POINTS[value], 0.2
        yield f"due {_POINTS[value]}", 0.05


def _counted(value: int) -> Iterator[tuple[str, float]]:
    if value < 1000:
        yield from _hundreds(value)
        return
    thousands, rest = divmod(value, 1000)
    hundreds, tens = divmod(rest, 100)
    yield say_number(value), 1.0
    for counted, usual in _thousands(thousands):
        if not rest:
            yield f"{counted} thousand", usual
        else:
            yield f"{counted} thousand {say_number(rest)}", usual
            yield f"{counted} thousand and {say_number(rest)}", 0.2 * usual
        if hundreds and tens:
            yield f"{counted} thousand {say_number(100 * hundreds)} and {say_number(tens)}", 0.3
            yield f"{counted} thousand {say_turned(rest)}", 0.3 * usual
        elif hundreds:
            yield f"{counted} thousand {say_number(hundreds)}", 0.3 * usual
    if hundreds and not tens:
        yield f"{say_number(thousands)} point {say_number(hundreds)}", 0.2
    if rest == 500:
        yield f"{say_number(thousands)} and a half thousand", 0.1
    if hundreds and value < 10_000:
        both = say_number(value // 100)
        yield f"{both} {say_number(tens) if tens else 'hundred'}", 0.7
    yield say_one_by_one(str(value)), 0.2


def _thousands(count: int) -> Iterator[tuple[str, float]]:
    yield say_number(count), 1.0
    if count == 1:
        yield "a", 0.3
    if count >= 10:
        yield say_one_by_one(str(count)), 0.7


def _hundreds(value: int) -> Iterator[tuple[str, float]]:
    hundreds, rest = divmod(value, 100)
    yield say_number(value), 1.0
    if rest and hundreds:
        yield f"{say_number(hundreds)} hundred and {say_number(rest)}", 1.0
        yield say_turned(value), 1.0
        yield say_turned(value).replace("zero", "oh"), 1.0
    if hundreds == 1:
        yield f"a hundred{f' {say_number(rest)}' if rest else ''}", 0.3
        if rest:
            yield f"a hundred and {say_number(rest)}", 0.5
    yield say_one_by_one(str(value)), 0.3


def _sounds_like(value: float) -> float | None:
    """Fifteen for fifty and what begins with it, and fifty for fifteen.

    Where one is right the other is not expected: they differ in a consonant that a room swallows,
    and nobody believes both of one number.
    """
    if 13 <= value <= 19:
        return 10.0 * (value - 10.0)
    return 10.0 + value // 10.0 if 30 <= value < 100 else None


def _believed(one: Asked, moments: Sequence[Moment], index: int) -> Iterable[int]:
    """The figures of a number that a student may believe at a checkpoint."""
    believed = ASKED[one].believed
    if isinstance(believed, range):
        return believed
    step, about = believed.step, moments if believed.where == "all along" else [moments[index]]
    near = [step * round(true(one, moment) / step) for moment in about]
    low = max(step, min(near) - believed.slack)
    return range(low, max(near) + believed.slack + 1, step)
