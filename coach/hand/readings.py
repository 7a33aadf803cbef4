"""What a phone's sensor gives: which way is up, in the phone's own axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

STEADY_DEG = 4.0
"""A hand is held steadily whose readings stray so little from their mean, as `spread_deg` has it:
more than twice what hands were simulated with (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of one sensor, in time.

    Heading is left out: it drifts in every phone, and a student in a chair cannot turn round.

    Attributes:
        at_s: when, seconds of one clock, shape (n,), increasing.
        up: unit vectors away from the earth in the phone's axes, shape (n, 3). Those are W3C's
            (Device Orientation and Motion): x to the screen's right, y to its top, z out of it.
    """

    at_s: Floats
    up: Floats

    def __len__(self) -> int:
        return len(self.at_s)

    def joined(self, later: Readings) -> Readings:
        """These and later ones."""
        return Readings(
            np.concatenate([self.at_s, later.at_s]), np.concatenate([self.up, later.up])
        )

    def last(self, for_s: float) -> Readings:
        """Those of so much time before the last of them, that one too."""
        kept = self.at_s >= (self.at_s[-1] if len(self) else 0.0) - for_s
        return Readings(self.at_s[kept], self.up[kept])

    @property
    def lasts_s(self) -> float:
        """From the first to the last."""
        return float(self.at_s[-1] - self.at_s[0]) if len(self) else 0.0


NONE = Readings(np.empty(0), np.empty((0, 3)))


def middle(up: Floats) -> Floats:
    """The mean direction of unit vectors, shape (n, 3) with n from 1, as a unit vector."""
    mean = up.mean(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def apart_deg(up: Floats, way: Floats) -> Floats:
    """The angle of each of these unit vectors, shape (n, 3), to another, degrees, shape (n,)."""
    # By its sine where it is small: a cosine near 1 is known to a few seconds of arc only.
    across = np.linalg.norm(np.cross(up, way), axis=-1)
    return np.asarray(np.degrees(np.arctan2(across, up @ way)))


def spread_deg(up: Floats) -> float:
    """How far unit vectors lie around their mean, root mean square of the angle to it, degrees."""
    return float(np.sqrt(np.mean(apart_deg(up, middle(up)) ** 2)))
