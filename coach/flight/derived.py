"""What a handbook's other pages would say, from the polar and the thrust derived for an airplane.

Steady flight on a standard day. Altitudes are pressure altitudes in metres, masses kilograms,
power a share of rated power; airspeeds are m/s, indicated or true as each function says.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from scipy.optimize import brentq, minimize_scalar

from coach.flight.atmosphere import (
    SEA_LEVEL_DENSITY,
    density,
    indicated_airspeed,
    true_airspeed,
)
from coach.flight.motion import Machine, State
from coach.flight.performance import Performance
from coach.flight.speeds import stall_speed
from coach.script.quantities import STANDARD_GRAVITY

FASTEST = 150.0
"""No level speed is looked for beyond, m/s true."""


class Glide(NamedTuple):
    """The flattest glide with the propeller windmilling: indicated airspeed, and lift over drag."""

    speed: float
    ratio: float


class Climb(NamedTuple):
    """The best climb at full throttle: indicated airspeed, and m/s upwards."""

    speed: float
    rate: float


def best_glide(performance: Performance, mass: float) -> Glide:
    """Speed and ratio of the flattest glide.

    Where the tangent to the polar CDmin + k (CL - CL0)^2 goes through the origin,
    CL^2 = CDmin / k + CL0^2 (any aerodynamics text, for CL0 = 0: zero-lift drag equals induced).
    """
    plane = performance
    least = plane.least_drag + plane.windmill_drag
    lift = math.sqrt(least / plane.induced_drag + plane.least_drag_lift**2)
    ratio = lift / (plane.drag_coefficient(lift) + plane.windmill_drag)
    weight = mass * STANDARD_GRAVITY * math.cos(math.atan(1.0 / ratio))
    speed = math.sqrt(2.0 * weight / (SEA_LEVEL_DENSITY * plane.wing_area * lift))
    return Glide(speed, ratio)


def sink(performance: Performance, mass: float, altitude: float) -> float:
    """Rate of descent at best glide with the power off, m/s.

    The path is down by atan(drag over lift), and the airspeed along it is true.
    """
    glide = best_glide(performance, mass)
    speed = true_airspeed(glide.speed, density(altitude))
    return speed * math.sin(math.atan(1.0 / glide.ratio))


def level_speed(
    performance: Performance, mass: float, power: float | None, altitude: float
) -> float | None:
    """True airspeed in level flight at a power, the faster of the two that it holds.

    Args:
        performance: of the airplane.
        mass: at which.
        power: share of rated power, or None for full throttle.
        altitude: at which.

    Returns:
        The speed, or None where the engine has not got the power, or it holds none above the stall.
    """
    air, propeller = density(altitude), performance.propeller

    def throttle(speed: float) -> float:
        return 1.0 if power is None else propeller.throttle_for_power(power, speed, air)

    def excess(speed: float) -> float:
        machine = Machine(performance, mass, throttle(speed), density)
        return machine.level(speed, altitude).acceleration

    slowest = true_airspeed(stall_speed(performance, mass), air)
    easiest = minimize_scalar(lambda v: -excess(v), bounds=(slowest, FASTEST), method="bounded").x
    if excess(easiest) <= 0.0:
        return None
    speed = float(brentq(excess, easiest, FASTEST))
    short = (power or 0.0) - propeller.output(throttle(speed), speed, air).power
    return None if short > 1e-6 else speed


def best_climb(performance: Performance, mass: float, altitude: float) -> Climb:
    """The fastest steady climb at full throttle; its rate is negative where there is none."""
    air = density(altitude)

    def rate(speed: float) -> float:
        return climb_rate(performance, mass, None, altitude, speed)

    slowest = true_airspeed(stall_speed(performance, mass), air)
    fastest = level_speed(performance, mass, None, altitude) or 1.5 * slowest
    found = minimize_scalar(lambda v: -rate(v), bounds=(slowest, fastest), method="bounded")
    return Climb(indicated_airspeed(float(found.x), air), -float(found.fun))


def climb_rate(
    performance: Performance, mass: float, power: float | None, altitude: float, speed: float
) -> float:
    """Rate of the steady climb at a true airspeed, m/s; less than nothing where it sinks.

    The path takes up the excess thrust: sin(gamma) = (T cos(alpha) - D) / W.

    Args:
        performance: of the airplane.
        mass: at which.
        power: share of rated power, as far as there is one, or None for full throttle.
        altitude: at which.
        speed: true airspeed.
    """
    throttle = 1.0
    if power is not None:
        throttle = performance.propeller.throttle_for_power(power, speed, density(altitude))
    machine, path = Machine(performance, mass, throttle, density), 0.0
    for _ in range(8):  # the path changes the lift needed, and that the drag, by little
        forces = machine.by_path(State(speed, 0.0, altitude, path), 0.0, 0.0)
        path = math.asin(forces.acceleration / STANDARD_GRAVITY + math.sin(path))
    return speed * math.sin(path)
