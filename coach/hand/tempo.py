"""A hand's own tempo: whether its time runs away from the plan's, or drags.

The plan is stretched and shifted until it lies nearest to what was flown, by the mean square of
pitch and bank together: first on a coarse grid of both, then on a fine one around the best.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from coach.hand.motion import Motion
from coach.hand.smooth import RATE_HZ

SLOPES = np.arange(0.80, 1.205, 0.01)
"""As `coach.taps.timing.OWN_TEMPI`."""

BEGUN_S = np.arange(-1.5, 1.75, 0.5)
"""How late such a hand may begin."""

FINER = tuple(
    (slope * np.arange(-4, 5), begun * np.arange(-4, 5))
    for slope, begun in ((0.002, 0.1), (0.0005, 0.02))
)
"""About the best of those, and then once more about the best of these."""

LEAST = 0.02
"""A tempo nearer to the plan's is not told from it."""

BETTER, ALIKE = 0.5, 0.35
"""What an own tempo must leave at most: of the mean square in the plan's own time, and of what the
plan moves by about its mean. Above them the hand did something else."""

LEAST_S = 20.0
"""In less nobody's tempo can be told."""

MOST_POINTS = 1000
"""That are compared, however long the flight."""


@dataclass(frozen=True)
class Tempo:
    """The hand did at ``begun_s + slope * t`` what was planned at t.

    Attributes:
        slope: of flown against planned time; below 1 rushing, above 1 dragging, as
            `coach.taps.timing.Timing.tempo`.
        begun_s: how late it began.
    """

    slope: float = 1.0
    begun_s: float = 0.0

    def late_s(self, at_s: float) -> float:
        """How much later than planned it was at a moment of the plan; early negative."""
        return self.begun_s + (self.slope - 1.0) * at_s

    def followed(self, plan: Motion) -> Motion:
        """The plan in the hand's own time."""
        if self == STEADY:
            return plan
        return replace(plan, time_s=tuple(at_s + self.late_s(at_s) for at_s in plan.time_s))


STEADY = Tempo()
"""The plan's own."""


def tempo(motion: Motion, plan: Motion) -> Tempo:
    """The hand's own tempo; `STEADY` where it kept the plan's or none can be told."""
    hand, ideal = motion.smooth, plan.smooth_plan
    there = ~np.isnan(hand.angles_deg[0])
    each = max(3, int(there.sum()) // MOST_POINTS)
    times, flown = hand.time_s[there][::each], hand.angles_deg[:, there][:, ::each]
    at_s, planned = ideal.time_s, ideal.angles_deg
    if len(times) * each / RATE_HZ < LEAST_S or not len(at_s):
        return STEADY

    def apart(one: Tempo) -> float:
        own = (times - one.begun_s) / one.slope
        return sum(
            float(((np.interp(own, at_s, axis) - did) ** 2).mean())
            for axis, did in zip(planned, flown, strict=True)
        )

    best = min((Tempo(*pair) for pair in itertools.product(SLOPES, BEGUN_S)), key=apart)
    for slopes, begun in FINER:
        near = itertools.product(best.slope + slopes, best.begun_s + begun)
        best = min((Tempo(*pair) for pair in near), key=apart)
        if abs(best.slope - 1.0) < LEAST / 2.0:
            return STEADY
    moved = float(planned.var(axis=1).sum())
    if (
        abs(best.slope - 1.0) < LEAST
        or apart(best) > BETTER * apart(STEADY)
        or apart(best) > ALIKE * moved
    ):
        return STEADY
    return Tempo(round(float(best.slope), 4), round(float(best.begun_s), 2))
