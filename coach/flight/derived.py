"""What a handbook's other pages would say, from the polar and the thrust derived for an airplane.

Steady flight on a standard day. Altitudes are pressure altitudes in metres, masses kilograms,
power a share of rated power; airspeeds are m/s, indicated or true as each function says.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from scipy.optimize import brentq, minimize_scalar

from coach.flight.atmosphere import (
    SEA_LEVEL_DENSITY,
    density,
    indicated_airspeed,
    true_airspeed,
)
from coach.flight.guidance import throttle_as_needed
from coach.flight.motion import Machine, State
from coach.flight.performance import Performance
from coach.flight.setting import Setting
from coach.flight.speeds import stall_speed
from coach.script.quantities import STANDARD_GRAVITY

FASTEST = 150.0
"""No level speed is looked for beyond, m/s true."""


class Glide(NamedTuple):
    """The flattest glide with the propeller windmilling: indicated airspeed, and lift over drag."""

    speed: float
    ratio: float


class Climb(NamedTuple):
    """A climb at full throttle, the fastest or the steepest: indicated airspeed, m/s upwards."""

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
    return _best(performance, mass, altitude, lambda speed, rate: rate)


def steepest_climb(performance: Performance, mass: float, altitude: float) -> Climb:
    """The steepest steady climb at full throttle, in still air; likewise."""
    return _best(performance, mass, altitude, lambda speed, rate: rate / speed)


def _best(
    performance: Performance, mass: float, altitude: float, merit: Callable[[float, float], float]
) -> Climb:
    """The steady climb at full throttle of the greatest merit, of true airspeed and rate."""
    air = density(altitude)

    def rate(speed: float) -> float:
        return climb_rate(performance, mass, None, altitude, speed)

    slowest = true_airspeed(stall_speed(performance, mass), air)
    fastest = level_speed(performance, mass, None, altitude) or 1.5 * slowest
    found = minimize_scalar(
        lambda speed: -merit(speed, rate(speed)), bounds=(slowest, fastest), method="bounded"
    )
    return Climb(indicated_airspeed(float(found.x), air), rate(float(found.x)))


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


def needed(
    performance: Performance, mass: float, altitude: float, speed: float
) -> tuple[float, float]:
    """Power, a share of rated power, and revolutions a second that level flight takes.

    Revolutions are nan with a propeller of constant speed; ``speed`` is true.
    """
    machine, state = Machine(performance, mass, 0.0, density), State(speed, 0.0, altitude, 0.0)
    throttle = throttle_as_needed(machine, state, 0.0, speed)
    _, share, turns = performance.propeller.output(throttle, speed, density(altitude))
    return share, turns


def level_at(
    performance: Performance, mass: float, altitude: float, setting: Setting
) -> float | None:
    """True airspeed in level flight at a power setting, the faster of the two that it holds.

    None where it holds none, or where only a table of the engine tells its power.
    """
    if setting.inches is not None:
        return None
    if setting.turns is None:
        full = setting.share == 1.0
        return level_speed(performance, mass, None if full else setting.share, altitude)
    turns, air = setting.turns, density(altitude)
    slowest = true_airspeed(stall_speed(performance, mass), air)
    fastest = level_speed(performance, mass, None, altitude)
    if fastest is None:
        return None

    def over(speed: float) -> float:
        return needed(performance, mass, altitude, speed)[1] - turns

    least = minimize_scalar(over, bounds=(slowest, fastest), method="bounded").x
    if not over(least) <= 0.0 <= over(fastest):
        return None
    return float(brentq(over, least, fastest))


def path_rate_at(
    performance: Performance, mass: float, altitude: float, speed: float, setting: Setting
) -> float | None:
    """Rate of climb at a power setting and a true airspeed, m/s; None as for `level_at`."""
    if setting.inches is not None:
        return None
    propeller, air, share = performance.propeller, density(altitude), setting.share
    if setting.turns is not None:
        turns = setting.turns

        def over(throttle: float) -> float:
            return propeller.output(throttle, speed, air).turns - turns

        if not over(0.0) <= 0.0 <= over(1.0):
            return None
        share = propeller.output(float(brentq(over, 0.0, 1.0)), speed, air).power
    return climb_rate(performance, mass, None if share == 1.0 else share, altitude, speed)
