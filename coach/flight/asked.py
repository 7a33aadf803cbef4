"""The numbers that a student is asked for: what is right, and how far off is still right."""

from __future__ import annotations

from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked


def true(asked: Asked, moment: Moment) -> float:
    """What a number is at a moment, in degrees, knots or feet; bank without a side."""
    value: float = getattr(moment, ASKED[asked].field)
    return abs(value) if ASKED[asked].sides == "left out" else value


def right(moment: Moment) -> dict[Asked, float]:
    """The numbers asked for at a checkpoint, as `true`, in their order."""
    return {one: true(one, moment) for one in moment.asks}


def off(asked: Asked, said: float, expected: float) -> float:
    """How far a number is from another one, without a sign; headings the short way round."""
    gap = abs(said - expected)
    return min(gap % 360.0, -gap % 360.0) if ASKED[asked].is_course else gap


def is_right(asked: Asked, said: float, expected: float) -> bool:
    """Whether a number is within its tolerance, a rounding to whole ones apart."""
    return off(asked, said, expected) <= ASKED[asked].tolerance + 0.5
