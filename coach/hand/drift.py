"""A hold that shifts: what a hand drifts by while it flies well.

A wrist tires, and a phone slides in a hand: after four minutes level may be two degrees off. A
student cannot know it, so it is taken off; what changes faster than `MOST_DPM` is the student's.
"""

from __future__ import annotations

import numpy as np

from coach.hand.motion import Motion
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ, instant, within

MOST_DPM = 1.0
"""Degrees a minute."""

LEAST_S = 60.0
"""In less a drift is within a hand's noise."""

MOST_POINTS = 400
"""Of which all pairs are looked at, however long the flight."""

NEAR_DEG = 5.0
"""What is further from the plan is flown wrong, and tells nothing of a drift."""

FLOWN = 0.65
"""At least this share of a flight must be flown so near to the plan, and half of that nearer to
where the drift has it than `CLOSE_DEG`."""

CLOSE_DEG = 1.5


def without_drift(motion: Motion, plan: Motion) -> Motion:
    """The motion less the drift of its hold, of what was seen of it.

    Against the plan in the hand's own time (`coach.hand.tempo.Tempo.followed`), or a hand that
    rushes is too far from it for a drift to be told.
    """
    pitch, bank = drift(motion, plan)
    if not (pitch or bank):
        return motion
    # Readings that stood all differ once a drift is taken off them, and would look like a hand's.
    time = np.asarray(motion.time_s)
    seen = within(time, motion.smooth.stretches)
    time = time[seen]
    level_pitch = np.asarray(motion.pitch_deg)[seen] - pitch * time / 60.0
    level_bank = np.asarray(motion.bank_deg)[seen] - bank * time / 60.0
    return Motion(
        tuple(time.tolist()),
        tuple(level_pitch.tolist()),
        tuple(level_bank.tolist()),
        motion.doubt_s,
    )


def drift(motion: Motion, plan: Motion) -> tuple[float, float]:
    """How the hand's pitch and bank drift away from the plan, degrees a minute.

    The slope is that of Theil and Sen, the median of those between all pairs of moments, which a
    stretch flown wrong hardly moves. 0 where it cannot be told.
    """
    hand, ideal = motion.smooth, plan.smooth_plan
    count = len(hand.time_s)
    apart = hand.angles_deg - ideal.part(hand.first, count)[0]
    each = max(instant(1.0), count // MOST_POINTS)
    seconds, apart = hand.time_s[::each], apart[:, ::each]
    there = ~np.isnan(apart).any(axis=0)
    seconds, apart = seconds[there], apart[:, there]
    if len(seconds) * each / RATE_HZ < LEAST_S:
        return 0.0, 0.0
    pitch, bank = (_slope(seconds, one) for one in apart)
    return pitch, bank


def _slope(seconds: Floats, apart: Floats) -> float:
    near = np.abs(apart) < NEAR_DEG
    if near.mean() < FLOWN:
        return 0.0
    seconds, apart = seconds[near], apart[near]
    one, other = np.triu_indices(len(seconds), 1)
    slope = float(np.median((apart[other] - apart[one]) / (seconds[other] - seconds[one])))
    left = apart - slope * seconds
    if np.median(np.abs(left - np.median(left))) > CLOSE_DEG:
        return 0.0
    return float(np.clip(60.0 * slope, -MOST_DPM, MOST_DPM))
