"""The brief as values: entry, checkpoints, standard, warnings, and the time history as CSV."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from coach.flight.airplane import Airplane
from coach.flight.atmosphere import density_altitude
from coach.flight.conditions import WIND_FROM
from coach.flight.flight import Flight
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND
from coach.words import CAUTION, side_of

THIN_MARGIN_KT = 3.0
"""A stall margin below this is told as a warning, whatever the script asks for."""

STRONG_WIND_KT = 25.0
"""More than nearly anybody practises in (common practice, no source)."""

STEEPER_DEG = 5.0
"""A bank so far beyond the one a circle or a pylon is laid out for is told as a warning."""

COLUMNS = {
    "t_s": 1,
    "loop": 0,
    "heading_deg": 2,
    "turned_deg": 2,
    "pitch_deg": 2,
    "path_deg": 2,
    "bank_deg": 2,
    "ias_kt": 2,
    "tas_kt": 2,
    "altitude_ft": 1,
    "turn_rate_dps": 2,
    "load_factor": 3,
    "stall_margin_kt": 2,
    "alpha_deg": 2,
    "rudder": 3,
    "east_ft": 0,
    "north_ft": 0,
}
"""The columns of the time history, each with its decimals."""


def called(airplane: Airplane) -> str:
    """An airplane's title, and whether it is an invented one."""
    return f"{airplane.title} (invented)" if airplane.invented else airplane.title


def entry(flight: Flight) -> dict[str, Any]:
    """What must be true before the maneuver begins, in the units pilots use."""
    day = flight.conditions
    return {
        "airplane": flight.airplane.title,
        "invented": flight.airplane.invented,
        "weight_lb": day.mass / POUND,
        "gross_weight_lb": flight.airplane.weights.gross / POUND,
        "ias_kt": flight.entry_speed_kt,
        "maneuvering_speed_kt": maneuvering_speed(flight.airplane, day.mass) / KNOT,
        "stall_speed_kt": stall_speed(flight.performance, day.mass) / KNOT,
        "power_percent": 100.0 * flight.power,
        "altitude_ft": day.altitude / FOOT,
        "ground_ft": day.ground / FOOT,
        "density_altitude_ft": density_altitude(day.altitude, day.warmer) / FOOT,
        "temperature_c": day.temperature - 273.15,
        "heading_deg": (float(flight.recorded("heading")[0]) / DEGREE) % 360.0,
        "course_deg": (day.heading / DEGREE) % 360.0,
        "wind_from_deg": (day.wind_from / DEGREE) % 360.0,
        "wind_kt": day.wind_speed / KNOT,
        "first_turn": side_of(flight.sides[0]),
        "loops": len(flight.sides),
        "references": [
            {"name": name, "heading_deg": heading} for name, heading in flight.references()
        ],
        "steps": list(flight.maneuver.entry.steps),
    }


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


def least_margin(flight: Flight) -> dict[str, float]:
    """When the airplane first comes nearest to the stall, and how fast it is then."""
    flown = flight.at(flight.recorded("time"))
    margin = flown["stall_margin_kt"]
    # Loops that are flown alike differ by a hair: the first of them is meant.
    least = int((margin <= margin.min() + 0.05).argmax())
    return {
        "time_s": float(flown["t_s"][least]),
        "ias_kt": float(flown["ias_kt"][least]),
        "stall_margin_kt": float(flown["stall_margin_kt"][least]),
    }


def fastest(flight: Flight) -> dict[str, float]:
    """When the airplane is first at its highest speed, and how far that is above maneuvering."""
    flown = flight.at(flight.recorded("time"))
    limit = maneuvering_speed(flight.airplane, flight.conditions.mass) / KNOT
    most = int((flown["ias_kt"] >= flown["ias_kt"].max() - 0.05).argmax())
    return {
        "time_s": float(flown["t_s"][most]),
        "ias_kt": float(flown["ias_kt"][most]),
        "above_maneuvering_kt": float(flown["ias_kt"][most] - limit),
    }


def board(flight: Flight) -> dict[str, Any]:
    """The whole brief for programs: every value is plain and named with its unit."""
    maneuver = flight.maneuver
    return {
        "maneuver": maneuver.maneuver,
        "title": maneuver.title,
        "purpose": maneuver.purpose,
        "entry": entry(flight),
        "length_s": flight.length_s,
        "fastest": fastest(flight),
        "least_margin": least_margin(flight),
        "checkpoints": [asdict(moment) for moment in flight.moments],
        "standard": None if maneuver.standard is None else maneuver.standard.model_dump(),
        "warnings": list(warnings(flight)),
        "notes": list(maneuver.notes),
        "common_errors": list(maneuver.errors),
        "cautions": [*maneuver.cautions, CAUTION],
    }


def history_csv(flight: Flight) -> str:
    """The time history at 10 Hz as comma-separated values with a header line."""
    table = flight.table()
    columns = [[f"{value:.{digits}f}" for value in table[name]] for name, digits in COLUMNS.items()]
    lines = [",".join(COLUMNS), *(",".join(row) for row in zip(*columns, strict=True))]
    return "\n".join(lines) + "\n"
