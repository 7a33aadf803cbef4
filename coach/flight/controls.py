"""What the controls are asked for: rudder, elevator and aileron, each as a signed index.

They are qualitative: how far a pedal or a wheel goes differs from airplane to airplane. Which way
it goes and whether that is much or little follows from the lift that is needed and from how the
wing rolls and yaws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from coach.flight.motion import Forces
from coach.flight.performance import Performance
from coach.script.quantities import DEGREE

Floats = npt.NDArray[np.float64]

AHEAD_S = 0.5
"""How far around a moment a change is looked at: what the hand is doing then."""


@dataclass(frozen=True)
class Controls:
    """Elevator and aileron along a flight; arrays of shape (n,).

    Attributes:
        elevator: lift coefficient beyond that of level flight at entry, for which the airplane is
            trimmed, as a share of what is left to the stall. Positive is back pressure: without a
            change of trim the elevator goes with the lift coefficient (static stability, any text
            on flight dynamics).
        elevator_rate: its change in a second.
        aileron: rolling moment coefficient that the ailerons must give, right positive.
        rolling: change of bank in a second, rad, right positive.
    """

    elevator: Floats
    elevator_rate: Floats
    aileron: Floats
    rolling: Floats


def rudder(plane: Performance, forces: Forces, roll_rate: float) -> float:
    """Rudder asked for, as a signed index within -1 and 1, right positive. Qualitative.

    Power at a high angle of attack asks for right rudder (propeller slipstream and its blades at an
    angle); rolling asks for rudder with the roll, more at high lift (adverse yaw). How the two are
    weighed is a model's guess, chosen so that rolling left while climbing slowly nearly cancels
    (common practice, no source). However much is asked for, a pedal has an end: the hyperbolic
    tangent comes to it smoothly and keeps the order.
    """
    slow = (forces.lift_coefficient - plane.cruise_lift) / (plane.greatest_lift - plane.cruise_lift)
    adverse = roll_rate / (8.0 * DEGREE) * forces.lift_coefficient / plane.greatest_lift
    return math.tanh(1.5 * (forces.power * slow + adverse))


def controls(
    plane: Performance,
    span: float,
    time: Floats,
    speed: Floats,
    heading: Floats,
    pitch: Floats,
    bank: Floats,
    lift: Floats,
    trimmed: float,
) -> Controls:
    """What elevator and ailerons are asked for along a flight.

    The wing's own answer to rolling and to yawing is that of an elliptical one, strip by strip
    (Cl_p = -a / 8, Cl_r = CL / 4; any text on flight dynamics): yawing, the outer wing is faster
    and lifts more, the overbanking tendency of FAA-H-8083-3C, ch. 3 (from memory). What the
    ailerons must give is what is left: a / 8 * p b / 2V - CL / 4 * r b / 2V.

    Args:
        plane: the airplane.
        span: of its wing, m.
        time: s, shape (n,) like all that follow; increasing, but for seams.
        speed: true, m/s.
        heading: of the nose, rad, not wrapped.
        pitch: attitude, rad.
        bank: rad.
        lift: coefficient.
        trimmed: lift coefficient in level flight at entry.
    """
    elevator = (lift - trimmed) / (plane.greatest_lift - trimmed)
    rolling, pitching, yawing = (_rate(time, angle) for angle in (bank, pitch, heading))
    p = rolling - yawing * np.sin(pitch)
    r = yawing * np.cos(bank) * np.cos(pitch) - pitching * np.sin(bank)
    per_rate = span / (2.0 * speed)
    aileron = (plane.lift_slope / 8.0 * p - lift / 4.0 * r) * per_rate
    return Controls(elevator, _rate(time, elevator), aileron, rolling)


def _rate(time: Floats, values: Floats) -> Floats:
    """Change in a second, from `AHEAD_S` before each moment to as much after it."""
    begin, end = (np.clip(time + way, time[0], time[-1]) for way in (-AHEAD_S, AHEAD_S))
    change = np.interp(end, time, values) - np.interp(begin, time, values)
    return np.asarray(change / np.maximum(end - begin, 1e-9))
