"""How a phone sits, learned from poses that a student shows: level, nose up, bank right."""

from __future__ import annotations

import cmath
import math
from typing import Literal

import numpy as np

from coach.hand.grip import Grip, axis
from coach.hand.readings import (
    NONE,
    STEADY_DEG,
    Floats,
    Readings,
    apart_deg,
    middle,
    spread_deg,
)
from coach.hand.smooth import LEAST_HZ

Pose = Literal["level", "nose up", "bank right"]

POSES: tuple[Pose, ...] = ("level", "nose up", "bank right")

ASKS: dict[Pose, str] = {
    "level": "Hold the model as in straight and level flight, still, for four seconds.",
    "nose up": "Raise the nose to about 45°, wings level, and hold it there for four seconds.",
    "bank right": "Bank about 45° to the right, the nose neither up nor down, and hold it there "
    "for four seconds.",
}
"""What to do, pose by pose."""

HOLD_S = 4.0
"""So long a pose is held: long enough for a hand's trembling to cancel, and longer than somebody
holds a phone still who only reads it."""

TOLD_S = 1.0
"""And so long before a student says that it is held."""

FAR_DEG = 20.0
"""A pose lies at least so far from level and from the one before it."""

MOST_DEG = 80.0
"""And no farther from level than that."""

NEAR_DEG = 6.0
"""What lies so near to the mean of a pose was read while it was held."""

NEW_DEG = 8.0
"""A pose that was refused is looked at again once it lies so far from where it was."""

SQUARE_DEG = 30.0
"""So far nose up and bank right may be from lying at right angles to each other."""

KEPT_S = 60.0
"""Readings longer ago are forgotten."""


def solved(level: Floats, nose_up: Floats, bank_right: Floats) -> Grip:
    """How a phone sits, from what it read in three poses.

    Up in level flight is the airplane's top. Seen along it, up leans towards the nose when the nose
    is raised, and away from the right wing when that is lowered, so that both tell the nose. The
    angle that fits both best in least squares, each as sure as it leaned far, is that of the
    principal axis: half the argument of the sum of their squares, as complex numbers.

    Args:
        level: unit vectors up in the phone's axes, shape (n, 3), any n from 1.
        nose_up: the same, while the nose was raised by any angle, not banked.
        bank_right: the same, banked to the right by any angle, the nose not raised.

    Returns:
        The grip; how far both poses differ about the nose is its quality.

    Raises:
        ValueError: a pose is level, or the two differ by 90 degrees or more.
    """
    top, east, north = _seen_from_above(level)
    noses = _noses(level, nose_up, bank_right)
    differ = differ_deg(level, nose_up, bank_right)
    if abs(differ) >= 90.0:
        raise ValueError(f"the poses differ by {differ:.0f} degrees about the nose")
    nose = cmath.sqrt(sum(nose * nose for nose in noses))
    if (nose * sum(noses).conjugate()).real < 0.0:
        nose = -nose
    return Grip(
        nose=axis(nose.real * east + nose.imag * north), top=axis(top), quality_deg=abs(differ)
    )


def differ_deg(level: Floats, nose_up: Floats, bank_right: Floats) -> float:
    """How far the nose that bank right tells lies counter-clockwise of that which nose up tells.

    Args:
        level: as for `solved`.
        nose_up: as for `solved`.
        bank_right: as for `solved`.

    Returns:
        Degrees, -180 to 180, seen from above.

    Raises:
        ValueError: a pose is level.
    """
    by_pitch, by_bank = _noses(level, nose_up, bank_right)
    return math.degrees(cmath.phase(by_bank / by_pitch))


def _noses(level: Floats, nose_up: Floats, bank_right: Floats) -> tuple[complex, complex]:
    """The nose that each pose tells, as long as the pose leaned far."""
    _, east, north = _seen_from_above(level)
    pitched, banked = (
        complex(up @ east, up @ north) for up in (middle(nose_up), middle(bank_right))
    )
    if min(abs(pitched), abs(banked)) < 1e-6:
        raise ValueError("a pose is level")
    return pitched, banked / 1j  # the left wing is a quarter turn from the nose


def _seen_from_above(level: Floats) -> tuple[Floats, Floats, Floats]:
    """Up in level flight, and two ways at right angles to it and each other, right-handed."""
    up = middle(level)
    aside = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
    east = aside / np.linalg.norm(aside)
    return up, east, np.cross(up, east)


class Poses:
    """Sees three poses, one after the other, in readings as they come; one of them for each try.

    Attributes:
        refused: why the last pose that was held was not taken, a sentence; "" else.
        grip: how the phone sits, once all have been seen.
    """

    def __init__(self) -> None:
        self._kept = NONE
        self._shown: list[Floats] = []
        self._judged: Floats | None = None
        self.refused = ""
        self.grip: Grip | None = None

    @property
    def pose(self) -> Pose | None:
        """Which is asked for; None once all have been seen."""
        return POSES[len(self._shown)] if len(self._shown) < len(POSES) else None

    @property
    def asks(self) -> str:
        """What to do now, a sentence; "" once all have been seen."""
        return ASKS[self.pose] if self.pose else ""

    def take(self, readings: Readings) -> None:
        """Take readings, later than all before, and see whether a pose has been held."""
        if self.pose is None or not len(readings):
            return
        self._kept = self._kept.joined(readings).last(KEPT_S)
        up = _held(self._kept, HOLD_S)
        if up is None or any(_near(up, shown) for shown in self._shown):
            return  # on the way, or not yet
        if self._judged is None or not _near(up, self._judged, NEW_DEG):
            self._judge(up)

    def held(self) -> None:
        """The student says that the pose is held now."""
        if self.pose is None:
            return
        up = _held(self._kept, TOLD_S)
        if up is None:
            self.refused = "It was not held still for a second: hold it still, and say so then."
        else:
            self._judge(up)

    def _judge(self, up: Floats) -> None:
        """Take a pose, or say why it cannot be the one asked for."""
        self._judged = up
        self.refused = self._wrong(up)
        if self.refused:
            return
        self._shown.append(up)
        if self.pose is None:
            # All that was read near a pose is of it, not only what showed that it was held; that
            # too, or nothing is left of a pose that was shown long ago.
            kept = self._kept.up
            self.grip = solved(
                *(
                    np.vstack([shown, kept[apart_deg(kept, shown) < NEAR_DEG]])
                    for shown in self._shown
                )
            )

    def _wrong(self, up: Floats) -> str:
        if self.pose == "level":
            return ""
        for shown, name in zip(self._shown, POSES, strict=False):
            if _near(up, shown):
                return f"That is still {name}. {ASKS[self.pose or name]}"
        if not _near(up, self._shown[0], MOST_DEG):
            return "That is too far: about 45° is enough."
        if self.pose == "nose up":
            return ""
        level, nose_up = (shown[None] for shown in self._shown)
        differ = differ_deg(level, nose_up, up[None])
        if abs(differ) <= SQUARE_DEG:
            return ""
        if abs(differ) >= 180.0 - SQUARE_DEG:
            return (
                "That is a bank to the left, or the nose was lowered before and not raised: bank "
                "to the right, or begin again with level."
            )
        return (
            f"The nose is {'up' if differ < 0.0 else 'down'} as well: bank to the right only, or "
            "begin again with level."
        )


def _held(readings: Readings, for_s: float) -> Floats | None:
    """Which way was up on average in so much time that has just gone by; None where it moved."""
    last = readings.last(for_s)
    enough = last.lasts_s >= 0.8 * for_s and len(last) >= LEAST_HZ * last.lasts_s
    return middle(last.up) if enough and spread_deg(last.up) < STEADY_DEG else None


def _near(up: Floats, other: Floats, within_deg: float = FAR_DEG) -> bool:
    return float(apart_deg(up, other)) < within_deg
