"""Where a hand banked to the wrong side, or held the nose down where it belongs up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from coach.hand.measured import AXES, Axis
from coach.hand.motion import Motion
from coach.hand.smooth import RATE_HZ, instant, runs

LEAST_DEG: Mapping[Axis, tuple[float, float]] = {"pitch": (4.0, 4.0), "bank": (5.0, 5.0)}
"""At least so much one way in the plan, and so much the other way in the hand (a choice of ours:
both are well above a hand's noise and the drift of its hold)."""

SLACK_S = 2.0
"""A hand so late or early that the plan goes the other way in the meantime is not reversed."""

BRIEF_S = 1.0
"""A shorter one is a slip, and two that are nearer to each other than `SLACK_S` are one."""


@dataclass(frozen=True)
class Reversal:
    """One stretch flown the wrong way.

    Attributes:
        of: pitch or bank.
        from_s: in the hand's time.
        to_s: likewise.
        planned_deg: the mean that belongs there.
        flown_deg: the mean that was held.
    """

    of: Axis
    from_s: float
    to_s: float
    planned_deg: float
    flown_deg: float


def reversals(motion: Motion, plan: Motion) -> tuple[Reversal, ...]:
    """Every stretch in the wrong direction, in time.

    Args:
        motion: the hand's.
        plan: in the hand's own time (`coach.hand.tempo.Tempo.followed`), or one that runs away
            would be found reversed where it is far ahead.
    """
    hand = motion.smooth
    count, slack = len(hand.time_s), instant(SLACK_S)
    around = plan.smooth_plan.part(hand.first - slack, count + 2 * slack)[0]
    found: list[Reversal] = []
    for of, flown, planned in zip(AXES, hand.angles_deg, around, strict=True):
        if not count:
            break
        due, held = LEAST_DEG[of]
        near = sliding_window_view(planned, 2 * slack + 1)
        # Beyond the plan's ends, and where the hand was not seen, nan compares as False.
        wrong = (near.min(axis=1) >= due) & (flown <= -held)
        wrong |= (near.max(axis=1) <= -due) & (flown >= held)
        stretches: list[list[int]] = []
        for begin, end in runs(wrong):
            if stretches and begin - stretches[-1][1] <= slack:
                stretches[-1][1] = int(end)
            else:
                stretches.append([int(begin), int(end)])
        found += [
            Reversal(
                of, float(hand.time_s[begin]), float(hand.time_s[end - 1]),
                float(planned[begin + slack : end + slack].mean()),
                float(np.nanmean(flown[begin:end])),
            )
            for begin, end in stretches
            if end - begin > BRIEF_S * RATE_HZ
        ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: one.from_s))
