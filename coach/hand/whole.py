"""A whole loop, or any other long stretch: how far off, how late and how smooth a hand was."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.hand.measured import known_s
from coach.hand.motion import Motion
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ, Flags, instant
from coach.hand.smoothness import spectral_arc_length

LONGEST_LAG_S = 5.0

LEAST_SHARE = 0.5
"""A stretch of which less was seen is not told of."""

EXACT_S = 0.1
"""How exactly a lag must be known by `coach.hand.measured.known_s`: a correlation leaves open how
large a movement was, and tells less exactly than that."""

ALIKE = 0.6
"""The least correlation by which the two are taken for the same movement."""

MOVES_DEG = 3.0
"""A plan that moves by less about its mean, as a standard deviation, says nothing of who stands
still."""

STILL = 0.25
"""A hand that moves by a smaller share of what it ought to stands still."""


@dataclass(frozen=True)
class Whole:
    """One stretch.

    Attributes:
        rms_pitch_deg: root mean square of what the pitch was off by, noise taken off.
        rms_bank_deg: of the bank likewise.
        lag_s: how much later than planned, by the greatest cross-correlation of pitch and bank
            together; None where the plan hardly tells (`EXACT_S`), or the hand did something else.
        pitch_lag_s: of the pitch alone.
        bank_lag_s: of the bank alone.
        smoothness: `coach.hand.smoothness.spectral_arc_length` of how fast the attitude changes;
            None where it was not seen all the way.
        planned_smoothness: the same of the plan.
        still: whether the hand stood still where it ought to move.
    """

    rms_pitch_deg: float
    rms_bank_deg: float
    lag_s: float | None
    pitch_lag_s: float | None
    bank_lag_s: float | None
    smoothness: float | None
    planned_smoothness: float
    still: bool


def whole(motion: Motion, plan: Motion, from_s: float, to_s: float) -> Whole | None:
    """What the hand did from one moment of the plan to another; None where it was hardly seen."""
    first = instant(from_s)
    count = instant(to_s) - first + 1
    planned, planned_dps = plan.smooth_plan.part(first, count)
    flown, flown_dps = motion.smooth.part(first, count)
    there = ~np.isnan(flown[0]) & ~np.isnan(planned[0])
    if there.mean() < LEAST_SHARE:
        return None
    off = np.sqrt(((flown - planned)[:, there] ** 2).mean(axis=1))
    moved, due = (float(np.hypot(*one[:, there].std(axis=1))) for one in (flown, planned))
    around = instant(LONGEST_LAG_S)

    def late_s(rows: slice) -> float | None:
        if known_s(planned_dps[rows], there / RATE_HZ) > EXACT_S:
            return None
        return lag_s(wide[rows], planned[rows])

    wide = motion.smooth.part(first - around, count + 2 * around)[0]
    full = bool(there[1:-1].all())
    return Whole(
        rms_pitch_deg=float(off[0]),
        rms_bank_deg=float(off[1]),
        lag_s=late_s(slice(0, 2)),
        pitch_lag_s=late_s(slice(0, 1)),
        bank_lag_s=late_s(slice(1, 2)),
        smoothness=_smoothness(flown_dps[:, there]) if full else None,
        planned_smoothness=_smoothness(planned_dps[:, there]),
        still=due >= MOVES_DEG and moved < STILL * due,
    )


def lag_s(flown: Floats, planned: Floats) -> float | None:
    """The shift at which two movements are most alike, by their normalised cross-correlation.

    Args:
        flown: degrees at `RATE_HZ`, shape (axes, n + 2 k); nan where not seen.
        planned: likewise, shape (axes, n), of the middle n instants.

    Returns:
        Seconds by which ``flown`` is later, at most k instants; None where it is nowhere alike, or
        most so at the very end.
    """
    shape = planned.shape[1]
    inside, seen = ~np.isnan(planned), ~np.isnan(flown)
    around = (flown.shape[1] - shape) // 2
    if not inside.any() or not seen[:, around : around + shape].any():
        return None
    # Sums of what is opposite to each other at each shift, and there each about its mean.
    plan, hand = np.where(inside, planned, 0.0), np.where(seen, flown, 0.0)
    count = np.maximum(_opposite(seen, inside), 1.0)
    of_hand, of_plan = _opposite(hand, inside), _opposite(seen, plan)
    both = _opposite(hand, plan) - of_hand * of_plan / count
    hands = _opposite(hand**2, inside) - of_hand**2 / count
    plans = _opposite(seen, plan**2) - of_plan**2 / count
    alike = both.sum(axis=0) / np.sqrt(np.maximum((hands.sum(axis=0) * plans.sum(axis=0)), 1e-9))
    best = int(np.argmax(alike))
    if not 0 < best < len(alike) - 1 or alike[best] < ALIKE:
        return None
    before, top, after = alike[best - 1 : best + 2]
    bend = before - 2.0 * top + after
    between = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
    return float((best - around + between) / RATE_HZ)


def _opposite(long: Floats | Flags, short: Floats | Flags) -> Floats:
    pairs = zip(long.astype(float), short.astype(float), strict=True)
    return np.array([np.correlate(one, other) for one, other in pairs])


def _smoothness(rates: Floats) -> float:
    return spectral_arc_length(np.hypot(*rates), RATE_HZ)
