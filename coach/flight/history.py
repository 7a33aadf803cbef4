"""What was flown: the recorded instants, the legs in time, and when something was reached."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from coach.flight.atmosphere import SEA_LEVEL_DENSITY
from coach.flight.conditions import Conditions
from coach.flight.integration import Instant
from coach.script.maneuver import Anchor
from coach.script.quantities import DEGREE
from coach.script.targets import Target

Floats = npt.NDArray[np.float64]

WINGS_LEVEL = 1.0 * DEGREE
"""There is nothing to roll out of where the bank is less."""


@dataclass(frozen=True)
class Span:
    """When a leg of the script is flown."""

    loop: int
    leg: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class History:
    """A flown maneuver in SI units and radians.

    Attributes:
        conditions: the day.
        sides: direction of each loop, +1 right.
        spans: the legs in time.
        instants: shape (n, number of fields of `Instant`).
    """

    conditions: Conditions
    sides: tuple[int, ...]
    spans: tuple[Span, ...]
    instants: Floats

    def recorded(self, field: str) -> Floats:
        """One field of `Instant` over the whole flight."""
        return self.instants[:, Instant._fields.index(field)]

    @cached_property
    def indicated(self) -> Floats:
        """Indicated airspeed at every instant."""
        air = np.array([self.conditions.density(height) for height in self.recorded("altitude")])
        return self.recorded("speed") * np.sqrt(air / SEA_LEVEL_DENSITY)

    @cached_property
    def turned(self) -> Floats:
        """Heading change since the start of each instant's loop, positive in its direction."""
        heading, loop = self.recorded("heading"), self.recorded("loop").astype(int)
        starts = np.array([heading[np.argmax(loop == n)] for n in range(len(self.sides))])
        turned: Floats = (heading - starts[loop]) * np.array(self.sides)[loop]
        return turned

    @cached_property
    def over_ground(self) -> tuple[Floats, Floats]:
        """Velocity over the ground to the east and to the north."""
        ahead = self.recorded("speed") * np.cos(self.recorded("path"))
        azimuth, (east, north) = self.recorded("azimuth"), self.conditions.wind
        return ahead * np.sin(azimuth) + east, ahead * np.cos(azimuth) + north

    @cached_property
    def position(self) -> tuple[Floats, Floats]:
        """Metres travelled over the ground to the east and to the north (trapezoidal rule)."""
        time = self.recorded("time")
        east, north = (
            np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time))])
            for speed in self.over_ground
        )
        return east, north

    @cached_property
    def ahead(self) -> Floats:
        """How far ahead of the first moment, along the entry course."""
        east, north = self.position
        course = self.conditions.heading
        return np.asarray(east * math.sin(course) + north * math.cos(course))

    @cached_property
    def beside(self) -> Floats:
        """How far beside the entry course's line, to the first side."""
        east, north = self.position
        course = self.conditions.heading
        return np.asarray((east * math.cos(course) - north * math.sin(course)) * self.sides[0])

    def when(self, anchor: Anchor, loop: int, speed_of: Callable[[Target], float]) -> float | None:
        """The moment of an anchor that names no checkpoint, or None if it never comes.

        Args:
            anchor: the anchor.
            loop: from 1.
            speed_of: the indicated airspeed that a script asks for, m/s.
        """
        spans = [one for one in self.spans if one.loop == loop]
        begun = spans[0].start_s
        if anchor.leg is not None:
            spans = [one for one in spans if one.leg == anchor.leg]
        start, end = spans[0].start_s, spans[-1].end_s
        if anchor.turned is not None:
            return self._crossing(self.turned, anchor.turned, start, end, loop)
        if anchor.speed is not None:
            return self._crossing(self.indicated, speed_of(anchor.speed), start, end, loop)
        if anchor.height is not None:
            level = anchor.height + self.conditions.ground
            return self._crossing(self.recorded("altitude"), level, start, end, loop)
        if anchor.abeam:
            # A millimetre short of it, so that it is not where the loop begins.
            line = float(np.interp(begun, self.recorded("time"), self.ahead)) - 0.001
            return self._crossing(self.ahead, line, start, end, loop)
        if anchor.roll_out:
            return self._roll_out(start, end)
        return start + anchor.share * (end - start)

    def _roll_out(self, start: float, end: float) -> float | None:
        """When the bank begins to come off for good between two times, or None if it never does.

        That is where the last stretch begins in which it comes off at least a quarter as fast
        as it does at its fastest there: in wind a circle takes bank off too, but slowly.
        """
        time = self.recorded("time")
        inside = (time >= start - 1e-9) & (time <= end + 1e-9)
        time, bank = time[inside], np.abs(self.recorded("bank")[inside])
        step, off = np.diff(time), -np.diff(bank)
        rate = np.divide(off, step, out=np.zeros_like(step), where=step > 1e-6)
        fast = (rate > 0.25 * rate.max(initial=0.0)) & (bank[:-1] > WINGS_LEVEL)
        if not fast.any():
            return None
        last = int(np.flatnonzero(fast)[-1])
        before = np.flatnonzero(~fast[:last])
        return float(time[before[-1] + 1 if before.size else 0])

    def _crossing(
        self, values: Floats, level: float, start: float, end: float, loop: int
    ) -> float | None:
        """When a trace first passes a level between two times of a loop."""
        time = self.recorded("time")
        inside = (time >= start - 1e-9) & (time <= end + 1e-9)
        inside &= self.recorded("loop") == loop - 1
        # The next loop's first instant is this one's last moment, but its own values begin anew.
        time, values = time[inside], values[inside]
        above = values >= level
        changes = np.flatnonzero(above[1:] != above[:-1])
        if not changes.size:
            return None
        index = int(changes[0])
        share = (level - values[index]) / (values[index + 1] - values[index])
        return float(time[index] + share * (time[index + 1] - time[index]))


def peak(time: Floats, values: Floats) -> float:
    """When a trace is greatest, refined by the parabola through the three samples around it."""
    index = int(values.argmax())
    if index in (0, len(values) - 1):
        return float(time[index])
    t, v = time[index - 1 : index + 2], values[index - 1 : index + 2]
    a, b, _ = np.polyfit(t - t[1], v, 2)
    return float(t[1] - b / (2.0 * a)) if a < 0.0 else float(t[1])
