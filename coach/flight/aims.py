"""Wishes in numbers: how far a flown loop is from each, and the sentence that says so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from coach.flight.history import Floats, History, peak
from coach.flight.sortie import Sortie
from coach.script.quantities import DEGREE, FOOT, KNOT
from coach.script.wishes import WISH_KINDS, Wish

_SHOWN = {"angle": (DEGREE, "deg"), "speed": (KNOT, "kt"), "length": (FOOT, "ft"), "time": (1, "s")}
_CALLED = {"turned": "heading change"}


@dataclass(frozen=True)
class Aim:
    """A wish in numbers: the range that is right, and the error that is just acceptable.

    ``asked`` is the same in words.
    """

    wish: Wish
    low: float
    high: float
    within: float
    asked: str

    @classmethod
    def of(cls, wish: Wish, sortie: Sortie) -> Aim:
        """What a wish asks of this airplane on this day."""
        if wish.between is not None:
            least, most = wish.between
            low, high = least.value, most.value
            asked = f"{least.written} to {most.written}"
            return cls(wish, low, high, 0.1 * (high - low), asked)
        assert wish.is_ is not None and wish.within is not None, "checked by `faults`"
        if wish.what == "speed":
            value = sortie.speed(wish.is_)
        else:
            altitude, ground = sortie.conditions.altitude, sortie.conditions.ground
            base = {"entry": altitude, "start": altitude, "ground": ground}
            value = wish.is_.of(base.get(wish.is_.base or "", 0.0))
        unit, name = _SHOWN[WISH_KINDS[wish.what]]
        asked = f"{value / unit:.0f} {name}, within {wish.within.written}"
        return cls(wish, value, value, wish.within.value, asked)

    def miss(self, value: float) -> float:
        """How far outside the range, signed, in units of what is acceptable."""
        return (value - min(max(value, self.low), self.high)) / self.within

    def sentence(self, value: float) -> str:
        """What the wish asked for and what comes out instead."""
        unit, name = _SHOWN[WISH_KINDS[self.wish.what]]
        off = (value - min(max(value, self.low), self.high)) / unit
        what = _CALLED.get(self.wish.what, self.wish.what)
        what += f" since {self.wish.since}" if self.wish.since else ""
        return (
            f"at {self.wish.at}, {what} comes out at {value / unit:.0f} {name}, "
            f"{abs(off):.0f} {name} {'above' if off > 0 else 'below'} what is asked "
            f"({self.asked})"
        )


def measured(sortie: Sortie, history: History) -> list[float]:
    """What each wish is about, as a loop that was flown has it."""
    time, altitude = history.recorded("time"), history.recorded("altitude")
    pitch = history.recorded("pitch")
    trace: dict[str, Floats] = {
        "turned": history.turned,
        "pitch": pitch - sortie.level_pitch,
        "speed": history.indicated,
        "altitude": altitude,
        "ahead": history.ahead,
        "beside": history.beside,
        "time": time,
    }
    moments: dict[str, Callable[[], float | None]] = {
        "lowest speed": lambda: peak(time, -trace["speed"]),
        "greatest altitude": lambda: peak(time, altitude),
        "highest pitch": lambda: peak(time, pitch),
        "lowest pitch": lambda: peak(time, -pitch),
    }
    named = {one.name: one.anchor for one in sortie.maneuver.checkpoints}

    def value(what: str, at: str) -> float:
        when = moments[at]() if at in moments else history.when(named[at], 1, sortie.speed)
        # A moment that does not come is as far off as the flight goes on.
        return float(np.interp(time[-1] if when is None else when, time, trace[what]))

    return [
        value(wish.what, wish.at) - (value(wish.what, wish.since) if wish.since else 0.0)
        for wish in sortie.maneuver.wishes
    ]
