"""The actuator disk: the ideal propeller, which no real one equals."""

from __future__ import annotations

import math


def disk_thrust(power: float, true_airspeed: float, air_density: float, area: float) -> float:
    """Thrust of an actuator disk, N.

    Momentum theory (any aerodynamics text): T = 2 rho A w (w - V) and P = T w, where w is the speed
    of the air through the disk. The cubic w^3 - V w^2 - P / (2 rho A) = 0 has one real root.
    """
    if power <= 0.0:
        return 0.0
    c = power / (2.0 * air_density * area)
    third = true_airspeed / 3.0
    through = third * (1.0 + 2.0 * math.cosh(math.acosh(1.0 + 0.5 * c / third**3) / 3.0))
    return power / through


def power_for_thrust(thrust: float, true_airspeed: float, air_density: float, area: float) -> float:
    """Power that an actuator disk needs for a thrust, W: the inverse of `disk_thrust`."""
    if thrust <= 0.0:
        return 0.0
    pressure = thrust / (2.0 * air_density * area)
    return thrust * 0.5 * (true_airspeed + math.sqrt(true_airspeed**2 + 4.0 * pressure))
