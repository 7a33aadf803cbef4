"""The greatest pitch, the lowest pitch and the greatest bank of a stretch: when, and how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from coach.hand.measured import AXES, ENOUGH, WITHIN_S, Axis, shift
from coach.hand.motion import Motion
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ, instant

What: TypeAlias = Literal["greatest pitch", "lowest pitch", "greatest bank"]

LEAST_DEG = 3.0
"""A peak of the plan that is nearer to level is none."""

NEAR_DEG = 1.0
"""What is so near to the peak belongs to it. The hand's is its greatest mean over half as long, or
the greatest of its noise would be told."""

MEAN_S = 4.0
"""The longest such mean."""

LONGEST_S = 12.0
"""A peak that lasts longer is held, and has no one moment to be early or late for."""


@dataclass(frozen=True)
class Peak:
    """One peak of the plan, and what became of it.

    Attributes:
        what: which one.
        planned_s: when it belongs.
        planned_deg: how much; bank right positive.
        flown_deg: the hand's, within `coach.hand.measured.WITHIN_S` of when it belongs.
        late_s: how much later it came, early negative; None where that cannot be told: see
            `coach.hand.measured.shift`.
    """

    what: What
    planned_s: float
    planned_deg: float
    flown_deg: float
    late_s: float | None

    @property
    def of(self) -> Axis:
        """Pitch or bank."""
        return "bank" if self.what == "greatest bank" else "pitch"

    @property
    def more_deg(self) -> float:
        """How much further from level than planned; below 0 not so far."""
        return (self.flown_deg - self.planned_deg) * (1.0 if self.planned_deg > 0.0 else -1.0)


def peaks(
    motion: Motion, plan: Motion, from_s: float, to_s: float, around_s: float = 0.0
) -> tuple[Peak, ...]:
    """The peaks of a loop, or of any other stretch of the plan, in time.

    Those are left out that the plan has not, and those around which the hand was not seen.

    Args:
        motion: the hand's.
        plan: what it ought to be.
        from_s: the stretch, in the plan.
        to_s: its end.
        around_s: as for `coach.hand.measured.shift`.
    """
    first = instant(from_s)
    pitch, bank = plan.smooth_plan.part(first, instant(to_s) - first + 1)[0]
    if np.isnan(pitch).all():
        return ()
    side = 1.0 if np.nanmax(bank) >= -np.nanmin(bank) else -1.0
    kinds: tuple[tuple[What, Floats, float], ...] = (
        ("greatest pitch", pitch, 1.0),
        ("lowest pitch", pitch, -1.0),
        ("greatest bank", bank, side),
    )
    found = [_peak(motion, plan, first, *kind, around_s) for kind in kinds]
    return tuple(sorted((one for one in found if one), key=lambda one: one.planned_s))


def _peak(
    motion: Motion, plan: Motion, first: int, what: What, planned: Floats, sign: float,
    around_s: float,
) -> Peak | None:  # fmt: skip
    height = np.where(np.isnan(planned), -np.inf, sign * planned)
    top = int(np.argmax(height))
    if height[top] < LEAST_DEG:
        return None
    below = np.flatnonzero(height < height[top] - NEAR_DEG)
    begin = int(below[below < top].max(initial=-1)) + 1
    end = int(below[below > top].min(initial=len(height)))
    of: Axis = "bank" if what == "greatest bank" else "pitch"
    planned_s = (first + top) / RATE_HZ
    width = int(np.clip((end - begin) // 2, 1, instant(MEAN_S)))
    reach = instant(WITHIN_S) + width // 2
    middle = first + (begin + end) // 2 + instant(around_s)
    flown = sign * motion.smooth.part(middle - reach, 2 * reach + 1)[0][AXES.index(of)]
    greatest = _greatest(flown, width)
    if greatest is None:
        return None
    # What such a mean takes off the plan's own peak it takes off the hand's.
    greatest += float(height[top]) - (_greatest(height[begin:end], width) or 0.0)
    late_s = None
    if end - begin <= instant(LONGEST_S):
        late_s = shift(motion, plan, planned_s, (of,), around_s)
    return Peak(what, planned_s, sign * float(height[top]), sign * greatest, late_s)


def _greatest(values: Floats, width: int) -> float | None:
    """The greatest mean over so many instants; None where hardly any was seen."""
    there = ~np.isnan(values)
    seen = np.convolve(there, np.ones(width), "valid")
    sums = np.convolve(np.where(there, values, 0.0), np.ones(width), "valid")
    full = seen >= ENOUGH * width
    return float((sums[full] / seen[full]).max()) if full.mean() > ENOUGH else None
