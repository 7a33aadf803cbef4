"""Numbers of an airplane that can be flown and are hardly meant, each with the likely slip."""

from __future__ import annotations

from collections.abc import Iterator

from coach.flight.airplane import Airplane, in_knots
from coach.flight.derived import best_climb, level_at
from coach.flight.fit import climb_row, climb_strength, derive, span_efficiency, thrust_share
from coach.problems import Problem
from coach.script.quantities import FOOT, KNOT

USUAL_LIFT = (1.2, 1.8)
"""Greatest lift coefficients of a clean wing (common practice, no source)."""

USUAL_ASPECT = (5.0, 11.0)
"""Span over mean depth of a light airplane's wing (the same)."""

USUAL_STRENGTH = (0.8, 1.4)
"""What full throttle gives by the climb row over what the engine is rated for (the same; JSBSim's
model c172p gives 1.36 times what its file rates it for)."""

LEAST_EFFICIENCY = 0.3
"""Span efficiency of a wing at least (the same)."""

MOST_WINDMILL = 0.08
"""What a propeller without power holds back, as a drag area over that of its disk, at most: about
twice the usual (the same)."""

LEAST_THRUST = 0.85
"""Thrust in cruise over that of a usual propeller at least (the same)."""

OFF_CLIMB = 0.2
"""How far best rate may lie from the model's best climb, a share of it. Climbs are flat there, and
the model finds JSBSim's c172p 18 % faster than the usual handbook of one (from memory)."""

APPROACHES = (1.1, 1.6)
"""Approach speeds by the clean stall: 1.3 times the stall with flaps, which is slower by up to a
seventh, and what handbooks add to that (common practice, no source)."""


def doubts(airplane: Airplane) -> tuple[str, ...]:
    """What is hardly true of one airplane, a sentence each; often nothing.

    What it is flown by is held against the rest, and so only once nothing else is in doubt.

    Raises:
        Problem: its numbers contradict each other.
    """
    found = tuple(_doubts(airplane))
    if found and _fits_in_knots(airplane):
        return (f"{found[0][:-1]}, or are your speeds in miles an hour?",)
    return found or tuple(_flown_by(airplane))


def _fits_in_knots(airplane: Airplane) -> bool:
    """Whether nothing would be doubted, had the speeds been written in miles an hour."""
    try:
        return not tuple(_doubts(in_knots(airplane)))
    except Problem:
        return False


def _doubts(airplane: Airplane) -> Iterator[str]:
    plane, stall = derive(airplane), airplane.speeds.stall / KNOT
    span, aspect = airplane.wing.span, airplane.wing.aspect
    if not USUAL_ASPECT[0] <= aspect <= USUAL_ASPECT[1]:
        yield (
            f"A span of {span / FOOT:.1f} ft makes this wing {aspect:.1f} times as long as it is "
            f"deep, and light airplanes have {USUAL_ASPECT[0]:.0f} to {USUAL_ASPECT[1]:.0f}: are "
            "span and area those of the whole wing?"
        )
    least, most = USUAL_LIFT
    if plane.greatest_lift > most:
        yield (
            f"A stall at {stall:.0f} kt takes a greatest lift coefficient of "
            f"{plane.greatest_lift:.2f}, and a clean wing has {most} at most: your stall speed "
            "looks like the one with flaps."
        )
    if plane.greatest_lift < least:
        yield (
            f"A stall at {stall:.0f} kt is fast for this wing and weight: the greatest lift "
            f"coefficient would be {plane.greatest_lift:.2f}, and a clean wing has {least} at "
            "least; are stall, wing area and gross weight right?"
        )
    efficiency = span_efficiency(airplane.wing, plane.induced_drag)
    glide = airplane.speeds.best_glide / KNOT
    if efficiency < LEAST_EFFICIENCY:
        yield (
            f"Best glide at {glide:.0f} kt is fast for this wing: the span efficiency would be "
            f"{efficiency:.2f}, and it is {LEAST_EFFICIENCY} at least; are best glide, its ratio "
            "and gross weight right?"
        )
    yield from _cruise(airplane)
    strength = climb_strength(airplane, plane)
    if airplane.climb and strength and not USUAL_STRENGTH[0] <= strength <= USUAL_STRENGTH[1]:
        yield (
            f"A climb of {climb_row(airplane.climb)} takes {strength:.0%} of what the engine is "
            f"rated for, and {USUAL_STRENGTH[0]:.0%} to {USUAL_STRENGTH[1]:.0%} would be usual: is "
            "that row at full throttle, flaps up, at gross weight?"
        )


def _flown_by(airplane: Airplane) -> Iterator[str]:
    """Whether what a student flies by fits what the model makes of the airplane."""
    plane, speeds, gross = derive(airplane), airplane.speeds, airplane.weights.gross
    if speeds.best_rate is not None:
        best = best_climb(plane, gross, 0.0).speed
        if abs(speeds.best_rate / best - 1.0) > OFF_CLIMB:
            yield (
                f"Best rate at {speeds.best_rate / KNOT:.0f} kt is "
                f"{'fast' if speeds.best_rate > best else 'slow'}: this airplane would climb best "
                f"at {best / KNOT:.0f} kt; is it indicated, in knots, at sea level and gross "
                "weight?"
            )
    for name in ("approach", "short_field"):
        speed, (least, most) = getattr(speeds, name), APPROACHES
        if speed is not None and not least <= speed / speeds.stall <= most:
            yield (
                f"The {name.replace('_', '-')} speed of {speed / KNOT:.0f} kt is "
                f"{speed / speeds.stall:.2f} times the clean stall speed, and {least} to {most} "
                "would be usual: is it indicated, in knots, and that of final?"
            )
    pattern = airplane.power.pattern
    if pattern is not None and pattern.inches is None and not level_at(plane, gross, 0.0, pattern):
        yield (
            f"A pattern flown with {pattern.text} does not hold its altitude: this airplane finds "
            "no speed in level flight for it; is that setting the one for level flight?"
        )


def _cruise(airplane: Airplane) -> Iterator[str]:
    """Whether the cruise row is fast or slow for the glide."""
    plane, cruise = derive(airplane), airplane.cruise
    if plane.propeller.drag_area > MOST_WINDMILL * airplane.engine.disk:
        how = "fast"
    elif thrust_share(airplane, plane) < LEAST_THRUST:
        how = "slow"
    else:
        return
    yield (
        f"Cruise at {cruise.speed / KNOT:.0f} kt with {cruise.power:.0%} of power is {how} for an "
        f"airplane that glides {airplane.glide_ratio:g} to 1 at "
        f"{airplane.speeds.best_glide / KNOT:.0f} kt: are its true airspeed in knots, its power "
        "and the glide right?"
    )
