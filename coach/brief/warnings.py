"""What is dangerous in a flight, or cannot be had: for the brief, the page and speech."""

from __future__ import annotations

import math

import numpy as np

from coach.flight.conditions import WIND_FROM
from coach.flight.flight import Flight
from coach.flight.history import Floats
from coach.flight.speeds import LEAST_CLEAN, USUAL, handbook_speed, limit_load, maneuvering_speed
from coach.script.quantities import DEGREE, FOOT, KNOT
from coach.script.targets import bases

OVER_SPEED = 1.02
"""Revolutions over the rated ones from which they are told of (common practice, no source)."""

LOADED = 1.1
"""Load factor from which a wing counts as loaded: that of a level turn at 25 degrees of bank."""

FAST_KT = 1.0
"""Nobody reads an airspeed indicator closer: a speed so little above a limit is not told."""

OFF_FT = 20.0
"""Nor an altimeter."""

THIN_MARGIN_KT = 3.0
"""A stall margin below this is told as a warning, whatever the script asks for."""

STRONG_WIND_KT = 25.0
"""More than nearly anybody practises in (common practice, no source)."""

STEEPER_DEG = 5.0
"""A bank so far beyond the one a circle or a pylon is laid out for is told as a warning."""


def warnings(flight: Flight) -> tuple[str, ...]:
    """What is dangerous or cannot be had on this day, each a sentence; often none."""
    day, title = flight.conditions, flight.airplane.title
    found = []
    limit = maneuvering_speed(flight.airplane, day.mass) / KNOT
    if flight.entry_speed_kt > limit + 0.5:
        found.append(
            f"Entry at {flight.entry_speed_kt:.0f} knots is above maneuvering speed, which is "
            f"{limit:.0f} knots at this weight."
        )
    flown = flight.at(flight.recorded("time"))
    found += _overloaded(flight, flown, limit)
    found += _over_speed(flight, flown)
    lowest = flown["altitude_ft"].min() - day.ground / FOOT
    least = flight.maneuver.entry.lowest / FOOT
    if lowest < least - 1.0:
        found.append(
            f"The maneuver goes down to {10 * math.floor(lowest / 10):,} feet above the ground; "
            f"stay at least {least:,.0f} feet above it."
        )
    margin = flown["stall_margin_kt"].min()
    if margin <= 0.0:
        found.append(f"{title} is flown to the stall.")
    elif margin < THIN_MARGIN_KT:
        found.append(f"{title} comes within {margin:.0f} knots of the stall.")
    found += _too_slow(flight)
    found += _pivotal(flight)
    found += _wind(flight)
    around = [leg.circle or leg.pylon for leg in flight.maneuver.legs]
    planned = max((one.steepest / DEGREE for one in around if one is not None), default=90.0)
    steepest = abs(flown["bank_deg"]).max()
    if steepest > planned + STEEPER_DEG:
        found.append(
            f"The bank goes to {steepest:.0f} degrees, where the maneuver is laid out for "
            f"{planned:.0f}."
        )
    if day.wind_speed > (STRONG_WIND_KT + 0.5) * KNOT:
        found.append(
            f"The wind is {day.wind_speed / KNOT:.0f} knots; few practise in more than "
            f"{STRONG_WIND_KT:.0f}."
        )
    found += [f"Not quite as the handbook has it: {sentence}." for sentence in flight.shortfalls]
    return tuple(found)


def _overloaded(flight: Flight, flown: dict[str, Floats], maneuvering_kt: float) -> list[str]:
    """What the airplane is not made for: fast where it is loaded, too fast, loaded too much."""
    found = []
    speed, load = flown["ias_kt"], flown["load_factor"]
    loaded = np.where(load > LOADED, speed, 0.0)
    at = int(loaded.argmax())
    if loaded[at] > maneuvering_kt + FAST_KT:
        found.append(
            f"Under load the speed reaches {loaded[at]:.0f} knots at {load[at]:.1f} g, above "
            f"maneuvering speed, which is {maneuvering_kt:.0f} knots at this weight."
        )
    never = flight.airplane.speeds.never_exceed
    if never is not None and speed.max() > never / KNOT:
        found.append(
            f"The speed reaches {speed.max():.0f} knots; never exceed {never / KNOT:.0f} in "
            f"{flight.airplane.title}."
        )
    most = limit_load(flight.airplane)
    if load.max() > most:
        found.append(
            f"The load reaches {load.max():.1f} g; {flight.airplane.title} is made for "
            f"{most:.1f} g, going by its stall and its maneuvering speed."
        )
    return found


def _over_speed(flight: Flight, flown: dict[str, Floats]) -> list[str]:
    """Whether a propeller of fixed pitch turns faster than the file says that it may."""
    engine, rpm = flight.airplane.engine, flown["rpm"]
    rated = 60.0 * engine.rated_revolutions
    given = "rated_revolutions" in engine.model_fields_set
    if not given or not (rpm > OVER_SPEED * rated).any():  # nan where they are not known
        return []
    at = int(np.nanargmax(rpm))
    return [
        f"The engine goes up to {10 * round(rpm[at] / 10):,} revolutions a minute at "
        f"{flown['ias_kt'][at]:.0f} knots, and is rated for {rated:,.0f}: less throttle there."
    ]


def _too_slow(flight: Flight) -> list[str]:
    """Which speeds of the handbook the model cannot fly, as it has no flaps."""
    found, flown_by = [], set(bases(flight.maneuver))
    for name in USUAL:
        given = getattr(flight.airplane.speeds, name.replace(" ", "_"))
        if given is None or name not in flown_by:
            continue
        flown = handbook_speed(
            name, flight.airplane, flight.performance, flight.conditions.mass
        )  # fmt: skip
        if flown > given + 0.5 * KNOT:
            found.append(
                f"Flown here at {flown / KNOT:.0f} knots, not at the {name.replace(' f', '-f')} "
                f"speed of {given / KNOT:.0f}: the model has no flaps, and keeps to "
                f"{LEAST_CLEAN} times its stall."
            )
    return found


def _pivotal(flight: Flight) -> list[str]:
    """Whether a maneuver that belongs to its pivotal altitude begins elsewhere."""
    day = flight.conditions
    if flight.maneuver.entry.height.base != "pivotal":
        return []
    height = flight.maneuver.entry.height.of(day.pivotal_height)
    higher = (day.altitude - day.ground - height) / FOOT
    if abs(higher) < OFF_FT:
        return []
    return [
        f"It begins {abs(higher):.0f} feet {'above' if higher > 0.0 else 'below'} its pivotal "
        f"altitude, which is {10 * round(height / FOOT / 10):,} feet above the ground."
    ]


def _wind(flight: Flight) -> list[str]:
    """Whether a maneuver that is laid out for a wind has it from elsewhere."""
    day, wanted = flight.conditions, flight.maneuver.entry.wind
    if day.wind_speed <= 2.0 * KNOT or wanted == "any":
        return []
    if wanted == "across":
        off = 0.5 * math.pi - day.crosswind
    else:
        origin = day.heading + day.first_side * WIND_FROM[wanted]
        off = abs(math.remainder(day.wind_from - origin, 2.0 * math.pi))
    if off <= 30.0 * DEGREE:
        return []
    if any(leg.circle or leg.pylon for leg in flight.maneuver.legs):
        where = {"behind": "behind you", "quartering": "half behind you"}.get(wanted, wanted)
        return [
            f"The wind is not {where} at the entry, as this maneuver has it: the steepest bank "
            "comes elsewhere, and what is said of the wind does not fit."
        ]
    if wanted == "across" and len(flight.maneuver.sides) > 1:
        return ["The wind is not across the entry heading: the loops will drift apart."]
    return []
