"""The level of a hand, found again in every count-in."""

from __future__ import annotations

import math

import numpy as np

from coach.hand.grip import Grip
from coach.hand.readings import STEADY_DEG, Floats, apart_deg, middle, spread_deg

LEVEL_S, AT_ONCE_S = 3.0, 0.3
"""It is that of so many seconds before the first moment; not of the very last ones, when a hand may
have begun."""

STILL_DEG = 3.0
"""And a hand does not move whose mean later on lies so near to that at first (common practice, no
source)."""

NEAR_DEG = 12.0
"""Further from how it ought to be held a hand is not holding it: it does something else."""

SAME_DEG = 1.0
"""A maneuver begins level that begins so near to it."""

LEAST_READINGS = 8
"""Fewer say nothing."""


def fresh_level(
    grip: Grip, before_s: Floats, up: Floats, first_deg: tuple[float, float]
) -> Grip | None:
    """The grip with the level that shows in how a hand waits for the first moment.

    It waits as the maneuver begins. Where that is not level it may as well be held level: then it
    must be clear which of both it is, twice as near as the other.

    Args:
        grip: with the level so far.
        before_s: how long before the first moment each reading was, in the student's seconds.
        up: unit vectors away from the earth in the phone's axes, shape (n, 3).
        first_deg: pitch and bank of the first moment.

    Returns:
        None where the hand was not held so, not steadily, not for long enough, or not clearly.
    """
    within = (before_s <= LEVEL_S) & (before_s >= AT_ONCE_S)
    before_s, up = before_s[within], up[within]
    if len(up) < LEAST_READINGS or np.ptp(before_s) < LEVEL_S / 2.0:
        return None
    half_s, held = np.median(before_s), middle(up)
    moved_deg = apart_deg(middle(up[before_s >= half_s]), middle(up[before_s < half_s]))
    if spread_deg(up) > STEADY_DEG or moved_deg > STILL_DEG:
        return None
    level = np.asarray(grip.top)
    due, other = _up(grip, *first_deg), level
    if apart_deg(due, held) > apart_deg(level, held):
        due, other = level, due
    far_deg = apart_deg(due, held)
    if apart_deg(due, other) > SAME_DEG and far_deg > apart_deg(other, held) / 2.0:
        return None
    return _turned(grip, due, held) if far_deg <= NEAR_DEG else None


def _up(grip: Grip, pitch_deg: float, bank_deg: float) -> Floats:
    """Which way is up in the phone at an attitude: `Grip.attitude` the other way round."""
    pitch, bank = math.radians(pitch_deg), math.radians(bank_deg)
    nose, top = np.asarray(grip.nose), np.asarray(grip.top)
    beside, above = -math.sin(bank) * math.cos(pitch), math.cos(bank) * math.cos(pitch)
    return np.asarray(math.sin(pitch) * nose + beside * np.cross(nose, top) + above * top)


def _turned(grip: Grip, due: Floats, held: Floats) -> Grip:
    """The grip turned as little as can be so that up, due there, lies where it was held."""
    # Rodrigues' formula, as any text on rotations has it.
    turn, top = np.cross(due, held), np.asarray(grip.top)
    across = np.cross(turn, top)
    return grip.levelled(top + across + np.cross(turn, across) / (1.0 + float(due @ held)))
