"""How a phone is held, or how it is strapped to a model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import cast

import numpy as np

from coach.hand.readings import Floats

Axis = tuple[float, float, float]

UPRIGHT = 0.2
"""A level whose top lies closer to the nose than this sine leaves no way forward."""

_SIDES = ("right edge", "left edge"), ("top edge", "bottom edge"), ("screen", "back")
"""What of a phone looks along each of its axes, and against it."""


@dataclass(frozen=True)
class Grip:
    """Where an airplane's axes lie in a phone.

    Attributes:
        nose: unit vector to the airplane's nose, in the phone's axes.
        top: unit vector out of the airplane's top, at right angles to it.
        quality_deg: how far the poses it was found by contradict each other; None where it was not
            found but taken as the easy one.
    """

    nose: Axis
    top: Axis
    quality_deg: float | None = None

    def attitude(self, up: Floats) -> tuple[Floats, Floats]:
        """Pitch and bank of the airplane from which way is up.

        With x to the nose, y to the right wing and z down, up is (sin pitch, -sin bank cos pitch,
        -cos bank cos pitch): rotation by heading, pitch and bank in that order, as any text on
        flight dynamics has it.

        Args:
            up: unit vectors in the phone's axes, shape (n, 3).

        Returns:
            Pitch, up positive, and bank, right positive; degrees, shape (n,) each.
        """
        ahead, beside, above = (up @ self._axes).T
        pitch = np.degrees(np.arcsin(np.clip(ahead, -1.0, 1.0)))
        bank = np.degrees(np.arctan2(-beside, above))
        return pitch, bank

    @cached_property
    def _axes(self) -> Floats:
        """Nose, right wing and top as columns; asked for ten times a second by every hand."""
        return np.column_stack([self.nose, np.cross(self.nose, self.top), self.top])

    def levelled(self, up: Axis | Floats) -> Grip:
        """The same grip with a fresh level.

        Args:
            up: which way is up where the airplane is held level, in the phone's axes.

        Returns:
            A grip whose top is that, and whose nose lies as close to this one's as it can; this
            grip itself where its nose points nearly that way.
        """
        top = axis(up)
        ahead = np.subtract(self.nose, np.dot(self.nose, top) * np.asarray(top))
        if np.linalg.norm(ahead) < UPRIGHT:
            return self
        return replace(self, nose=axis(ahead), top=top)

    @property
    def words(self) -> str:
        """How the phone sits and how well that is known: ``"The phone's top edge is ..."``."""
        nose, top = _side(self.nose), _side(self.top)
        if self.quality_deg is None:
            return f"The phone's {nose} is the nose, and its {top} is up."
        known = f"the poses agree to {max(1.0, self.quality_deg):.0f}°"
        return f"The phone's {nose} is the nose, and its {top} is up; {known}."


def axis(way: Axis | Floats) -> Axis:
    """A way, in the phone's axes, as a unit vector.

    Args:
        way: any length but 0.
    """
    found = np.asarray(way, dtype=np.float64)
    return cast(Axis, tuple((found / np.linalg.norm(found)).tolist()))


def _side(way: Axis) -> str:
    """What of a phone looks that way, nearest."""
    most = int(np.argmax(np.abs(way)))
    return _SIDES[most][int(way[most] < 0.0)]


EASY = Grip(nose=(0.0, 1.0, 0.0), top=(0.0, 0.0, 1.0))
"""The phone is the airplane: its top edge is the nose, and its screen is up."""
