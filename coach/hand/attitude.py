"""Which way is up, from what a browser tells of how a phone is turned.

Both of W3C's ways are taken: three angles (Device Orientation and Motion) and a quaternion
(Orientation Sensor). Either is the rotation from the phone's axes (x to the screen's right, y to
its top, z out of it) to the earth's (x east or anywhere level, z up); what is called up here is the
earth's z in the phone's axes, the last row of that rotation, in which no heading is left.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from coach.hand.readings import Floats, Readings

LEAST_LENGTH = 0.5
"""A quaternion shorter than that is none: a sensor that has not begun gives zeros."""


def rotation(alpha_deg: float, beta_deg: float, gamma_deg: float) -> Floats:
    """The rotation from the phone's axes to the earth's.

    Intrinsic, about z, then the new x, then the new y: R = Z(alpha) X(beta) Y(gamma), as W3C Device
    Orientation and Motion has it, section "deviceorientation event".

    Args:
        alpha_deg: about z, 0 to 360.
        beta_deg: about x', -180 to 180.
        gamma_deg: about y'', -90 to 90.

    Returns:
        The matrix, shape (3, 3): the earth's coordinates are it times the phone's.
    """
    (sa, sb, sg), (ca, cb, cg) = _sines(np.array([alpha_deg, beta_deg, gamma_deg]))
    return np.array(
        [
            [ca * cg - sa * sb * sg, -cb * sa, ca * sg + cg * sa * sb],
            [cg * sa + ca * sb * sg, ca * cb, sa * sg - ca * cg * sb],
            [-cb * sg, sb, cb * cg],
        ]
    )


def up_by_angles(angles: npt.ArrayLike) -> Floats:
    """Which way is up, from W3C's alpha, beta and gamma: the last row of `rotation`.

    Args:
        angles: degrees, shape (n, 3).

    Returns:
        Unit vectors in the phone's axes, shape (n, 3).
    """
    (_, sb, sg), (_, cb, cg) = _sines(np.asarray(angles, dtype=np.float64).reshape(-1, 3).T)
    return np.column_stack([-cb * sg, sb, cb * cg])


def up_by_quaternions(quaternions: npt.ArrayLike) -> Floats:
    """Which way is up, from W3C Orientation Sensor's quaternions.

    Args:
        quaternions: x, y, z and w, shape (n, 4); their length does not matter.

    Returns:
        Unit vectors in the phone's axes, shape (n, 3): (2(xz - yw), 2(yz + xw), 1 - 2(x² + y²)). A
        row is not a number where the quaternion is hardly longer than zero.
    """
    given = np.asarray(quaternions, dtype=np.float64).reshape(-1, 4)
    length = np.linalg.norm(given, axis=1)
    x, y, z, w = (given / np.where(length < LEAST_LENGTH, np.nan, length)[:, None]).T
    return np.column_stack(
        [2.0 * (x * z - y * w), 2.0 * (y * z + x * w), w * w + z * z - x * x - y * y]
    )


def readings(
    at_s: npt.ArrayLike, quaternions: npt.ArrayLike = (), angles: npt.ArrayLike = ()
) -> Readings:
    """What a phone told, as readings.

    Args:
        at_s: when each was taken, seconds of one clock, shape (n,).
        quaternions: as for `up_by_quaternions`, shape (n, 4), or none.
        angles: as for `up_by_angles`, shape (n, 3), where there are no quaternions.

    Returns:
        Those that are rotations, and later than all before them; where there are not as many times
        as rotations, as many as there are of both.
    """
    by_quaternions = np.size(quaternions) > 0
    up = up_by_quaternions(quaternions) if by_quaternions else up_by_angles(angles)
    times = np.asarray(at_s, dtype=np.float64).reshape(-1)
    both = min(len(times), len(up))
    times, up = times[:both], up[:both]
    usable = np.isfinite(times) & np.isfinite(up).all(axis=1)
    times, up = times[usable], up[usable]
    latest = np.maximum.accumulate(np.concatenate([[-np.inf], times]))[:-1]
    return Readings(times[times > latest], up[times > latest])


def _sines(degrees: Floats) -> tuple[Floats, Floats]:
    return np.sin(np.radians(degrees)), np.cos(np.radians(degrees))
