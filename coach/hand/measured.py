"""What a hand did at one moment of a plan: the attitude it held, and how much later it did so.

Times are the flight's seconds, angles degrees; late is positive. A plan is a `Motion` too.

Lateness is found by shifting the hand against the plan around a moment until they agree best. They
need not agree in height: a hand that is held two degrees high all the while is not late. How high
it is, is estimated along with the shift, held to 0 as if it were `OFFSET_DEG` by chance (a normal
prior), and what that leaves of the plan's slopes says how exactly the shift is known: where the
attitude hardly changes, or changes as evenly as a ramp, nobody can tell.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from coach.hand.motion import Motion
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ, Smooth, instant

Axis: TypeAlias = Literal["pitch", "bank"]

AXES: tuple[Axis, ...] = ("pitch", "bank")

AROUND_S = (4.0, 6.0, 9.0, 13.0)
"""What lies so far from a moment, and less the further, says how late the hand was there: the least
of these that tells."""

WITHIN_S = 4.0
"""The most that a hand can be found early or late: what is further off belongs to the neighbours,
as with taps (`coach.taps.timing.WINDOW_S`)."""

OFFSET_DEG = 2.0

NOISE = 0.5
"""The spectral density at 0 Hz of a hand's noise, deg2 s: 1.5 degrees that are put right some three
times a second (a guess of ours)."""

EXACT_S = 0.15
"""A shift known less exactly than this, as a standard deviation, is none."""

ENOUGH = 0.6
"""The share of what is around that must have been seen."""

ALIKE = 0.5
"""What must have become of the difference between plan and hand, as a share of the plan's own
movement about its mean: above it the hand did something else."""


@dataclass(frozen=True)
class Attitude:
    """An attitude held, noise taken off.

    Attributes:
        pitch_deg: from level flight at entry, up positive.
        bank_deg: right positive.
    """

    pitch_deg: float
    bank_deg: float


def seen(motion: Motion) -> tuple[tuple[float, float], ...]:
    """Where a hand was seen, as (from, to): see `coach.hand.smooth.stretches`."""
    return motion.smooth.stretches


def held(motion: Motion, at_s: float) -> Attitude | None:
    """The attitude at one time; None where the hand was not seen."""
    found = motion.smooth.at(at_s)
    return found and Attitude(*found)


def shift(
    motion: Motion,
    plan: Motion,
    at_s: float,
    of: Collection[Axis] = AXES,
    around_s: float = 0.0,
) -> float | None:
    """How much later than planned the hand did what belongs around a moment.

    Args:
        motion: the hand's.
        plan: what it ought to be.
        at_s: the moment, in the plan.
        of: pitch and bank together, or one of them.
        around_s: where the shift is looked for, `WITHIN_S` on either side: what an own tempo has
            made of it until then.

    Returns:
        Seconds, early negative; None where the plan does not tell, the hand did something else, or
        it was not seen.
    """
    rows = [AXES.index(axis) for axis in of]
    for reach_s in AROUND_S:
        late_s = _shift(motion.smooth, plan.smooth_plan, at_s, rows, around_s, instant(reach_s))
        if late_s is not None:
            return late_s
    return None


def _shift(
    hand: Smooth, plan: Smooth, at_s: float, rows: list[int], around_s: float, reach: int
) -> float | None:
    """The same from so many instants on either side."""
    within, middle = instant(WITHIN_S), instant(around_s)
    count = 2 * reach + 1
    first = instant(at_s) - reach
    plan_deg, plan_dps = (one[rows] for one in plan.part(first, count))
    hand_deg = hand.part(first + middle - within, count + 2 * within)[0][rows]
    weights = np.cos(np.linspace(-0.5, 0.5, count) * np.pi) ** 2 / RATE_HZ
    weights = np.where(np.isnan(plan_deg[0]), 0.0, weights)
    lags = sliding_window_view(hand_deg, count, axis=1)
    there = ~np.isnan(lags[0]) * weights
    enough = there.sum(axis=1) > ENOUGH * weights.sum()
    if not enough.any():
        return None
    apart = _or_none(lags - plan_deg[:, None, :])
    costs = np.where(enough, _about_offset(apart, there), np.inf)
    best = int(np.argmin(costs))
    if not 0 < best < 2 * within or np.isinf(costs[best - 1 : best + 2]).any():
        return None
    moved = _about_offset(_or_none(plan_deg), weights)
    misfit = float(costs[best] / there[best].sum())
    if costs[best] > ALIKE * moved or known_s(plan_dps, there[best], misfit) > EXACT_S:
        return None
    return float((middle + best - within + _vertex(costs[best - 1 : best + 2])) / RATE_HZ)


def known_s(plan_dps: Floats, weights: Floats, misfit: float = 0.0) -> float:
    """How exactly a shift can be known, as a standard deviation in seconds.

    The bound of Cramer and Rao for the delay of a known course in noise: the noise's density over
    the energy of the course's slopes, about what an offset explains of them.

    Args:
        plan_dps: how fast the plan changes, shape (axes, n).
        weights: seconds that each stands for, shape (n,).
        misfit: what is left between plan and hand, deg2, as if it lasted for a second at a time.
    """
    told = float(_about_offset(_or_none(plan_dps), weights))
    return float(np.sqrt((NOISE + misfit) / told)) if told > 0.0 else float("inf")


def _or_none(values: Floats) -> Floats:
    return np.where(np.isnan(values), 0.0, values)


def _about_offset(values: Floats, weights: Floats) -> Floats:
    """The weighed squares of values about the offset that explains them best, both axes together.

    Args:
        values: shape (axes, ..., n).
        weights: seconds that each stands for, (..., n).
    """
    total = weights.sum(axis=-1) + NOISE / OFFSET_DEG**2
    squares = (values**2 * weights).sum(axis=-1) - (values * weights).sum(axis=-1) ** 2 / total
    return np.asarray(squares.sum(axis=0))


def _vertex(three: Floats) -> float:
    """Where the parabola through three costs is least, in steps from the middle one."""
    before, middle, after = three
    bend = before - 2.0 * middle + after
    return float(0.5 * (before - after) / bend) if bend > 0.0 else 0.0
