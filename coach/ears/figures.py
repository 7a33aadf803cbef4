"""The numbers that a student may say at a checkpoint, in every wording of theirs.

They are those that are plausible there: the right ones, and the wrong ones that a student might
believe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from coach.callouts.wording import say_number, say_turned
from coach.flight.asked import TOLERANCES, is_right, off, right
from coach.flight.moment import Moment
from coach.script.asked import Asked
from coach.words import three_figures

SPEED_SLACK_KT = 20
"""How far beyond the maneuver's own speeds a student's belief may lie."""

ALTITUDE_SLACK_FT = 1000

_FAR = 3.0

_LEVEL: Mapping[Asked, tuple[str, ...]] = {
    "pitch": ("level", "on the horizon"),
    "bank": ("wings level", "bank level"),
}


def plausible(moment: Moment, speeds_kt: tuple[float, float]) -> dict[Asked, Mapping[str, float]]:
    """The numbers of each quantity that a checkpoint asks for, by their words.

    Args:
        moment: what is true there, and which numbers are asked for.
        speeds_kt: the maneuver's lowest and highest speed.
    """
    known: dict[Asked, Mapping[str, float]] = {}
    for one, expected in right(moment).items():
        figures = _FIGURES[one](moment, speeds_kt) | dict.fromkeys(_LEVEL.get(one, ()), 0.0)
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
    return 1.0 / (1.0 + (off(quantity, said, expected) / (_FAR * TOLERANCES[quantity])) ** 2)


def _sounds_like(value: float) -> float | None:
    """Fifteen for fifty and what begins with it, and fifty for fifteen.

    Where one is right the other is not expected: they differ in a consonant that a room swallows,
    and nobody believes both of one number.
    """
    if 13 <= value <= 19:
        return 10.0 * (value - 10.0)
    return 10.0 + value // 10.0 if 30 <= value < 100 else None


def _worded(values: Iterable[int], *wordings: Callable[[int], str]) -> dict[str, float]:
    return {wording(value): float(value) for value in sorted(values) for wording in wordings}


def _pitches(_moment: Moment, _speeds_kt: tuple[float, float]) -> dict[str, float]:
    return _worded(range(1, 31), say_number)


def _banks(moment: Moment, _speeds_kt: tuple[float, float]) -> dict[str, float]:
    own = abs(round(moment.bank_deg))
    return _worded({*range(5, 65, 5), *([own] if own else [])}, say_number)


def _speeds(_moment: Moment, speeds_kt: tuple[float, float]) -> dict[str, float]:
    low, high = speeds_kt
    plausible = range(max(1, round(low) - SPEED_SLACK_KT), round(high) + SPEED_SLACK_KT + 1)
    return _worded(plausible, say_number, say_turned)


def _altitudes(moment: Moment, _speeds_kt: tuple[float, float]) -> dict[str, float]:
    own = 10 * round(moment.altitude_ft / 10)
    near = round(moment.altitude_ft, -2)
    low = max(100, round(near) - ALTITUDE_SLACK_FT)
    hundreds = range(low, round(near) + ALTITUDE_SLACK_FT + 1, 100)
    return _worded({*hundreds, own} - {0}, say_number)


def _headings(moment: Moment, _speeds_kt: tuple[float, float]) -> dict[str, float]:
    own = round(moment.heading_deg) % 360 or 360
    known = {_digits(one): float(one) for one in (*range(10, 361, 10), own)}
    return known | {words.replace("nine", "niner"): one for words, one in known.items()}


def _digits(heading: int) -> str:
    return " ".join(say_number(int(digit)) for digit in three_figures(heading))


_FIGURES: Mapping[Asked, Callable[[Moment, tuple[float, float]], dict[str, float]]] = {
    "pitch": _pitches,
    "bank": _banks,
    "speed": _speeds,
    "altitude": _altitudes,
    "heading": _headings,
}
