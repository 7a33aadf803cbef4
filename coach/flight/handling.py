"""How a pilot's hand moves bank and nose: no faster than it will, and no rate changed at once.

What the figures are is common practice, no source: a pilot rolls into a turn within a few seconds
and is at that rate within one; the nose moves by a degree or two in a second, and passengers feel
it where it begins or stops more quickly than within another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.flight.curve import Curve
from coach.script.quantities import DEGREE


@dataclass(frozen=True)
class Hand:
    """What moves something towards where it is wanted.

    Attributes:
        most: greatest rate, a second.
        change: greatest change of the rate, a second squared.
        time: seconds in which the last of what is off is taken out.
    """

    most: float
    change: float
    time: float

    @property
    def brake(self) -> float:
        """How it ends a movement: more gently than it begins one, not to go beyond."""
        return 0.7 * self.change

    def top(self, way: float, rate: float = 0.0) -> float:
        """The greatest rate of a movement over a way that ends at rest and has a rate already."""
        both = 2.0 / (1.0 / self.change + 1.0 / self.brake)
        return min(self.most, math.sqrt(both * max(0.0, way + 0.5 * rate**2 / self.change)))

    def seconds(self, way: float) -> float:
        """How long a movement over a way takes from rest to rest."""
        top = self.top(way)
        return way / top + 0.5 * top / self.change + 0.5 * top / self.brake if way > 0.0 else 0.0

    def along(self, curve: Curve) -> Hand:
        """The hand that follows a curve: as quick as that asks for, where it is no quicker itself.

        A leg that gives its time says how quickly it is flown: a recovery is.
        """
        most, change = max(self.most, curve.fastest), max(self.change, curve.sharpest)
        return Hand(most, change, self.time)

    def rate(self, off: float, step: float = 0.0) -> float:
        """The rate that takes out what is off and can be stopped in time.

        A hand that decides only once in a ``step`` takes its time, or it would go to and fro.
        """
        time = max(self.time, 1.5 * step)
        near = self.brake * time**2
        size = abs(off)
        rate = size / time
        if size > near:  # braked evenly, v^2 = 2 a s, until it goes over into the last of it
            rate = math.sqrt(self.brake * (2.0 * size - near))
        return math.copysign(min(self.most, rate), off)

    def next_rate(self, off: float, rate: float, step: float, drift: float = 0.0) -> float:
        """The rate after a step, from the one before it.

        Args:
            off: what is off now.
            rate: how fast it moves now.
            step: seconds until the next decision.
            drift: how fast what is wanted moves by itself.
        """
        wanted = drift + self.rate(off - (rate - drift) * step, step)
        wanted = max(-self.most, min(self.most, wanted))
        return rate + max(-self.change * step, min(self.change * step, wanted - rate))


def roller(rate: float) -> Hand:
    """Moves the bank; how fast it rolls is the maneuver's."""
    return Hand(rate, 10.0 * DEGREE, 0.3)


NOSE = Hand(6.0 * DEGREE, 2.0 * DEGREE, 0.4)
"""Moves the pitch attitude to where the flight path changes as it should."""

PATH = Hand(2.5 * DEGREE, 2.0 * DEGREE, 0.8)
"""Says how fast the flight path should change."""
