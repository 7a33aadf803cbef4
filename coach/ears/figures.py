"""The numbers that a student may say at a checkpoint, in every wording of theirs.

They are those that are plausible there: the right ones, and the wrong ones that a student might
believe.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from coach.callouts.figures import say_heading, say_number, say_turned
from coach.flight.asked import is_right, off, right, true
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked, AskedNumber

_FAR = 3.0


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
        values = {*_believed(one, moments, index), own} - {0}
        figures = {words: float(value) for value in sorted(values) for words in _say(number, value)}
        figures |= dict.fromkeys(number.zero, 0.0)
        good = {value for value in figures.values() if is_right(one, value, abs(expected))}
        known[one] = {
            words: value for words, value in figures.items() if _sounds_like(value) not in good
        }
    return known


def likely(quantity: Asked, said: float, expected: float) -> float:
    """How likely a student says a number, against the right one: 1, and less the further off.

    A guess of its shape (a Cauchy curve that falls to half at three tolerances), which keeps
    "fifty" from being heard where fifteen is right, and costs next to nothing close by.
    """
    return 1.0 / (1.0 + (off(quantity, said, expected) / (_FAR * ASKED[quantity].tolerance)) ** 2)


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


def _say(number: AskedNumber, value: int) -> tuple[str, ...]:
    """Every wording of a figure."""
    if number.is_course:
        digits = say_heading(value).spoken
        return digits, digits.replace("nine", "niner")
    return (say_number(value), say_turned(value)) if number.short else (say_number(value),)
