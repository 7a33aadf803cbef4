"""The brief as values: entry, checkpoints, standard, warnings, and the time history as CSV."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from coach.brief.loops import alike
from coach.brief.warnings import warnings
from coach.callouts.own import FLAPS, GEAR, POWERS, SPEEDS, fields, own, silent
from coach.flight.airplane import Airplane
from coach.flight.atmosphere import density_altitude
from coach.flight.flight import Flight
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND, STANDARD_GRAVITY
from coach.script.standards import Checkride, asked_at, not_asked, told
from coach.script.targets import Target, bases
from coach.words import CAUTION, side_of

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
    "elevator": 3,
    "aileron": 4,
    "power_percent": 1,
    "rpm": 0,
    "east_ft": 0,
    "north_ft": 0,
}
"""The columns of the time history, each with its decimals; empty where a value is unknown."""


LONG_S = 20.0
"""A throttle that stays where it is for less is not left alone (common practice, no source)."""


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
        "rpm": _known(60.0 * flight.turns),
        "rpm_left_alone": left_alone(flight),
        "altitude_ft": day.altitude / FOOT,
        "ground_ft": day.ground / FOOT,
        "density_altitude_ft": density_altitude(day.altitude, day.warmer) / FOOT,
        "temperature_c": day.temperature - 273.15,
        "heading_deg": (float(flight.recorded("heading")[0]) / DEGREE) % 360.0,
        "pivotal_estimate_ft": _pivotal_estimate_ft(flight),
        "course_deg": (day.heading / DEGREE) % 360.0,
        "wind_from_deg": (day.wind_from / DEGREE) % 360.0,
        "wind_kt": day.wind_speed / KNOT,
        "first_turn": side_of(flight.sides[0]),
        "loops": len(flight.sides),
        "references": [
            {"name": name, "heading_deg": heading} for name, heading in flight.references()
        ],
        "handbook": handbook(flight),
        "steps": list(flight.maneuver.entry.steps),
    }


def handbook(flight: Flight) -> list[dict[str, str]]:
    """The airplane's own numbers by which a maneuver is flown and said, each with what it is.

    Where the model flies another speed than the handbook's, or its file gives none, both are told.
    """
    plane, based, named = flight.airplane, set(bases(flight.maneuver)), fields(flight.maneuver)
    words, unsaid = own(plane), silent(plane)
    rows = []
    for name in SPEEDS:
        base = name.replace("_", " ")
        if not (base in based or name in named) or not words[name]:
            continue
        told = "your handbook's" if name in unsaid else words[name]
        flown = (
            f"{flight.speed_of(Target(base, 1.0, 0.0)) / KNOT:.0f} kt" if base in based else told
        )
        rows.append((base, told if flown == told else f"{told} ({flown} flown here)"))
    if named & FLAPS.keys() and plane.flaps is not None:
        rows.append(("flaps", ", ".join(f"{step / DEGREE:.0f}°" for step in plane.flaps) or "none"))
    if named & GEAR.keys() and plane.gear is not None:
        rows.append(("gear", plane.gear))
    for name, called in POWERS.items():
        if name in named - unsaid:
            rows.append((called, words[name].removesuffix(" power")))
    return [{"what": what, "value": value} for what, value in rows]


def _known(value: float) -> float | None:
    """A value, or None where it is not known."""
    return None if math.isnan(value) else value


def left_alone(flight: Flight) -> dict[str, float] | None:
    """Least and most revolutions a minute in the longest time that the throttle is left alone.

    None where that is short, or where revolutions are not for the throttle to say.
    """
    rpm, time = flight.recorded("turns") * 60.0, flight.recorded("time")
    if np.isnan(rpm).any():
        return None
    moved = np.flatnonzero(abs(np.diff(flight.recorded("lever"))) > 1e-6)
    begins, ends = np.append(0, moved + 1), np.append(moved, len(time) - 1)
    lengths = time[ends] - time[begins]
    # Loops that are flown alike differ by a hair: the first of them is meant.
    longest = int((lengths >= lengths.max() - 1.0).argmax())
    begin, end = int(begins[longest]), int(ends[longest])
    if lengths[longest] < LONG_S:
        return None
    turning = rpm[begin : end + 1]
    return {
        "from_s": float(time[begin]),
        "to_s": float(time[end]),
        "throttle_percent": 100.0 * float(flight.recorded("lever")[begin]),
        "least": float(turning.min()),
        "most": float(turning.max()),
    }


def _pivotal_estimate_ft(flight: Flight) -> float | None:
    """The pivotal altitude as a pilot estimates it, ft above the ground; None without a pylon.

    GS^2 / g, in feet and knots GS^2 / 11.3 (FAA-H-8083-3C ch. 7): exact in still air.
    """
    if not any(leg.pylon for leg in flight.maneuver.legs):
        return None
    groundspeed = float(np.hypot(*flight.history.over_ground)[0])
    return groundspeed**2 / STANDARD_GRAVITY / FOOT


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


def board(flight: Flight, checkride: Checkride | None = None) -> dict[str, Any]:
    """The whole brief for programs: every value is plain and named with its unit.

    Args:
        flight: what is flown.
        checkride: the student's, whose limits are told; None for those of every one.
    """
    maneuver, moments = flight.maneuver, flight.moments
    flown = flight.at([moment.time_s for moment in moments])
    engine = [
        {"power_percent": float(power), "rpm": _known(float(rpm))}
        for power, rpm in zip(flown["power_percent"], flown["rpm"], strict=True)
    ]
    return {
        "maneuver": maneuver.maneuver,
        "title": maneuver.title,
        "purpose": maneuver.purpose,
        "entry": entry(flight),
        "length_s": flight.length_s,
        "fastest": fastest(flight),
        "least_margin": least_margin(flight),
        "checkpoints": [
            asdict(moment) | turning for moment, turning in zip(moments, engine, strict=True)
        ],
        "loops": [
            {
                "loops": list(group.loops),
                "sides": list(group.sides),
                "calls": [asdict(call) for call in group.calls],
            }
            for group in alike(flight)
        ],
        "standards": told(asked_at(maneuver.standard, checkride)),
        "not_asked": not_asked(maneuver.standard, checkride),
        "warnings": list(warnings(flight)),
        "notes": list(maneuver.notes),
        "common_errors": list(maneuver.errors),
        "cautions": [*maneuver.cautions, CAUTION],
    }


def history_csv(flight: Flight) -> str:
    """The time history at 10 Hz as comma-separated values with a header line."""
    table = flight.table()
    columns = [
        ["" if math.isnan(value) else f"{value:.{digits}f}" for value in table[name]]
        for name, digits in COLUMNS.items()
    ]
    lines = [",".join(COLUMNS), *(",".join(row) for row in zip(*columns, strict=True))]
    return "\n".join(lines) + "\n"
