"""The polar, the engine and the propeller that fit a handbook's numbers."""

from __future__ import annotations

import math
from dataclasses import replace

from coach.flight.airplane import Airplane, Climb, Wing
from coach.flight.atmosphere import SEA_LEVEL_DENSITY, density, true_airspeed
from coach.flight.disk import disk_thrust
from coach.flight.performance import WITH_TAIL, Performance, lift_slope
from coach.flight.propeller import (
    EFFICIENCY,
    OF_IDEAL_THRUST,
    WINDMILL,
    ConstantSpeed,
    FixedPitch,
    Propeller,
)
from coach.problems import Problem
from coach.script.quantities import FOOT, KNOT, STANDARD_GRAVITY

MOST_CAMBER = 0.45
"""Greatest lift at least drag, as a share of the lift at best glide, that the fit may find."""

LEAST_STRENGTH = 0.5
"""An engine that gives at full throttle so much less than it is rated for, or more by as much, is
none: the rows contradict each other."""

LEAST_USUAL = 0.66
"""A propeller that gives so much less thrust than a usual one is none: the same."""

FPM = FOOT / 60.0


def derive(airplane: Airplane) -> Performance:
    """The polar, the engine and the propeller behind a handbook's numbers.

    The parabola CD = CDmin + k (CL - CL0)^2 (any aerodynamics text, for a cambered wing) has three
    numbers, and the handbook three conditions: at best glide it has the handbook's ratio, and there
    its tangent goes through the origin, which makes that ratio the best; and in the cruise row drag
    equals the thrust of a usual propeller. The glide was flown with the propeller windmilling.
    Where that asks for a CL0 that no wing has, it stays at its limit, and what is left over is put
    down to the propeller. Less drag in cruise than in a glide with CL0 = 0: the windmill holds back
    more. More drag than with the greatest CL0: this propeller gives less thrust.

    What engine and propeller give at full throttle follows from a row of the climb, where there is
    one, and else from the rated power.

    Raises:
        Problem: the rows contradict each other; the sentence says how.
    """
    weight, area = airplane.weights.gross * STANDARD_GRAVITY, airplane.wing.area
    cruise, engine = airplane.cruise, airplane.engine
    fixed = engine.propeller == "fixed pitch"
    air, speed, thrust = density(cruise.altitude), cruise.speed, _usual_thrust(airplane)
    force = 0.5 * air * speed**2 * area
    windmill = WINDMILL * engine.disk / area if fixed else 0.0

    cruise_lift, cruise_drag = weight / force, thrust / force + windmill
    glide_lift = 2.0 * weight / (SEA_LEVEL_DENSITY * area * airplane.speeds.best_glide**2)
    tangent = 1.0 / airplane.glide_ratio
    curvature = (cruise_drag - tangent * cruise_lift) / max((glide_lift - cruise_lift) ** 2, 1e-6)
    uncambered = tangent / (2.0 * glide_lift)
    camber = 1.0 - uncambered / max(curvature, uncambered)
    least_lift = min(camber, MOST_CAMBER) * glide_lift
    induced = tangent / (2.0 * (glide_lift - least_lift))
    least_drag = tangent * glide_lift - induced * (glide_lift - least_lift) ** 2

    predicted, usual = least_drag + induced * (cruise_lift - least_lift) ** 2, 1.0
    if camber == 0.0:
        windmill += max(0.0, predicted - cruise_drag)
    if camber > MOST_CAMBER:
        usual = (predicted - windmill) * force / thrust
    _refuse(airplane, induced, usual, too_fast=windmill > 0.5 * least_drag)
    propeller: Propeller
    if fixed:
        propeller = _fixed_pitch(airplane, usual * thrust, windmill * area)
    else:
        propeller = ConstantSpeed(
            engine.rated_power, 1.0, engine.disk, usual * OF_IDEAL_THRUST, windmill * area
        )
    plane = Performance(
        wing_area=area,
        least_drag=least_drag - windmill,
        least_drag_lift=least_lift,
        induced_drag=induced,
        greatest_lift=2.0 * weight / (SEA_LEVEL_DENSITY * area * airplane.speeds.stall**2),
        lift_slope=WITH_TAIL * lift_slope(airplane.wing.aspect),
        cruise_lift=cruise_lift,
        propeller=propeller,
    )
    drag = plane.drag_coefficient(cruise_lift) * force
    least = propeller.strength_for(drag, speed, air)
    climb, by_climb = airplane.climb, climb_strength(airplane, plane)
    if climb is None or by_climb is None:
        by_climb = 1.0
    elif not LEAST_STRENGTH < by_climb < 1.0 / LEAST_STRENGTH:
        raise Problem(
            f"{airplane.title}: climb and cruise do not agree: {climb_row(climb)} takes "
            f"{by_climb:.0%} of what the engine is rated for; is that row at full throttle, flaps "
            "up, and its speed indicated?"
        )
    return replace(plane, propeller=propeller.strong(max(least, by_climb)))


def span_efficiency(wing: Wing, induced_drag: float) -> float:
    """Induced drag of the ideal wing of this span over that of the polar: 1 / (pi AR k)."""
    return 1.0 / (math.pi * wing.aspect * induced_drag)


def thrust_share(airplane: Airplane, plane: Performance) -> float:
    """Thrust in the cruise row over that of a usual propeller."""
    cruise = airplane.cruise
    force = 0.5 * density(cruise.altitude) * cruise.speed**2 * plane.wing_area
    return plane.drag_coefficient(plane.cruise_lift) * force / _usual_thrust(airplane)


def climb_strength(airplane: Airplane, plane: Performance) -> float | None:
    """What full throttle gives by the climb row, over what is rated; None without that row.

    In a steady climb L + T sin(alpha) = W cos(gamma) and T cos(alpha) - D = W sin(gamma).
    """
    climb = airplane.climb
    if climb is None:
        return None
    weight, air = airplane.weights.gross * STANDARD_GRAVITY, density(climb.altitude)
    speed = true_airspeed(climb.speed, air)
    force, uphill = 0.5 * air * speed**2 * plane.wing_area, min(0.5, climb.rate / speed)
    thrust = alpha = 0.0
    for _ in range(5):  # what the thrust carries of the weight changes the lift by little
        lift = (weight * math.sqrt(1.0 - uphill**2) - thrust * math.sin(alpha)) / force
        alpha = (lift - plane.cruise_lift) / plane.lift_slope
        thrust = (plane.drag_coefficient(lift) * force + weight * uphill) / math.cos(alpha)
    return plane.propeller.strength_for(thrust, speed, air)


def climb_row(climb: Climb) -> str:
    """The row, as a sentence has it."""
    return f"{climb.rate / FPM:.0f} feet a minute at {climb.speed / KNOT:.0f} kt"


def _usual_thrust(airplane: Airplane) -> float:
    """Of a usual propeller in the cruise row, N."""
    cruise, engine = airplane.cruise, airplane.engine
    power = cruise.power * engine.rated_power
    if engine.propeller == "fixed pitch":
        return EFFICIENCY * power / cruise.speed
    air = density(cruise.altitude)
    return OF_IDEAL_THRUST * disk_thrust(power, cruise.speed, air, engine.disk)


def _refuse(airplane: Airplane, induced: float, usual: float, *, too_fast: bool) -> None:
    """Refuse a wing better than the ideal one, and a cruise that no propeller explains.

    Raises:
        Problem: which of them it is.
    """
    title, cruise, ratio = airplane.title, airplane.cruise, airplane.glide_ratio
    glide = f"{ratio:g} to 1 at {airplane.speeds.best_glide / KNOT:.0f} kt"
    efficiency = span_efficiency(airplane.wing, induced)
    if efficiency > 1.0:
        raise Problem(
            f"{title}: no wing is as good: gliding {glide} on a span of "
            f"{airplane.wing.span / FOOT:.1f} ft takes a span efficiency of "
            f"{max(1.01, efficiency):.2f}, and 1 is the most there is; a glide of about "
            f"{0.75 * ratio / efficiency:.1f} to 1 would be usual. Are glide ratio, best glide "
            "and span right?"
        )
    if too_fast or usual < LEAST_USUAL:
        raise Problem(
            f"{title}: cruise and glide do not agree: {cruise.speed / KNOT:.0f} kt at "
            f"{cruise.power:.0%} is too {'fast' if too_fast else 'slow'} for an airplane that "
            f"glides {glide}; are its true airspeed in knots, its power and the glide right?"
        )


def _fixed_pitch(airplane: Airplane, thrust: float, drag_area: float) -> FixedPitch:
    """The propeller that gives a thrust in the cruise row, at its revolutions.

    Where the file does not say them they are those of the rated power, less by the cube root of the
    power, as at one advance ratio (any text on propellers).
    """
    cruise, engine = airplane.cruise, airplane.engine
    turns = cruise.revolutions or engine.rated_revolutions * cruise.power ** (1.0 / 3.0)
    try:
        return FixedPitch.through(
            cruise.power * engine.rated_power, turns, cruise.speed, density(cruise.altitude),
            thrust, drag_area,
            rated_power=engine.rated_power, rated_turns=engine.rated_revolutions,
            diameter=engine.propeller_diameter,
        )  # fmt: skip
    except ValueError:
        raise Problem(
            f"{airplane.title}: cruise and propeller do not agree: {60.0 * turns:.0f} revolutions "
            f"a minute are too few for {cruise.speed / KNOT:.0f} kt with a propeller of "
            f"{engine.propeller_diameter / FOOT * 12.0:.0f} inches; are they and its diameter "
            "right?"
        ) from None
