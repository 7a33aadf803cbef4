"""The day as somebody gives it, in words and units, and the defaults where they give nothing."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from coach.flight.airplane import Airplane, derive
from coach.flight.atmosphere import pressure_altitude, standard_temperature
from coach.flight.conditions import Conditions
from coach.flight.speeds import named_speed, stall_speed
from coach.problems import Problem
from coach.script.maneuver import Maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND, parse

ACROSS_KT = 10.0
"""Wind speed where somebody asks for wind across and gives none."""


HIGHER = 1.5
"""So many times its usual height above the ground a maneuver near it may be entered (a guess of
ours): much higher, a landing or a pattern is another maneuver."""

WIND_FROM = {
    "ahead": 0.0,
    "any": 0.0,
    "across": math.pi / 2.0,
    "quartering": 0.75 * math.pi,
    "behind": math.pi,
}
"""Where the wind comes from against the entry heading, towards the first side."""

INCH_OF_MERCURY = 3386.389  # pascal, at 0 degrees Celsius


@dataclass(frozen=True)
class Day:
    """What somebody gave; None, or an empty text, leaves it to the script and the airplane.

    A bare number is taken in the unit that pilots use for it: pounds, feet, knots, degrees (of
    heading or Celsius).

    Attributes:
        weight: such as ``"2300 lb"``.
        altitude: entry altitude above sea level, such as ``"4500 ft"``.
        ground: elevation of the ground.
        altimeter: altimeter setting, such as ``"29.80 inHg"``.
        temperature: at the entry altitude, such as ``"15 C"``.
        wind: ``"calm"``, ``"across"``, ``"across@15"`` or ``"240@15"``.
        heading: entry heading, such as ``"270"``.
        entry_speed: indicated.
        direction: ``"right"`` or ``"left"``, the first turn.
        loops: how many loops.
    """

    weight: str | None = None
    altitude: str | None = None
    ground: str | None = None
    altimeter: str | None = None
    temperature: str | None = None
    wind: str | None = None
    heading: str | None = None
    entry_speed: str | None = None
    direction: str | None = None
    loops: int | None = None


def shared(day: Day, maneuver: Maneuver) -> Day:
    """A day of several maneuvers as one of them has it: an altitude is for those up high alone."""
    return replace(day, altitude=None) if maneuver.entry.near_ground else day


def conditions(day: Day, maneuver: Maneuver, airplane: Airplane) -> Conditions:
    """The day in numbers.

    Raises:
        Problem: a value cannot be read, or lies outside what the airplane or the model allows.
    """
    side = 1 if (day.direction or maneuver.usual_side) == "right" else -1
    gross, empty = airplane.weights.gross, airplane.weights.empty
    mass = _read("weight", "mass", "lb", day.weight, gross)
    if not empty <= mass <= gross + 1e-6:
        raise Problem(
            f"found {mass / POUND:.0f} lb, but {airplane.title} weighs {empty / POUND:.0f} lb "
            f"empty and at most {gross / POUND:.0f} lb.",
            "weight",
        )
    ground = _read("ground", "length", "ft", day.ground, 0.0)
    _within("ground", ground / FOOT, -1400.0, 12000.0, "ft")
    altitude = _read("altitude", "length", "ft", day.altitude, ground + maneuver.entry.height)
    _within("altitude", altitude / FOOT, 0.0, 15000.0, "ft")
    if altitude <= ground:
        raise Problem(
            f"found {altitude / FOOT:.0f} ft, but the ground is at {ground / FOOT:.0f} ft.",
            "altitude",
        )
    if maneuver.entry.near_ground and altitude - ground > HIGHER * maneuver.entry.height:
        raise Problem(
            f"found {altitude / FOOT:.0f} ft, but {maneuver.title.lower()} is entered "
            f"{maneuver.entry.height / FOOT:.0f} ft above the ground, which is at "
            f"{ground / FOOT:.0f} ft: give the elevation of the ground too.",
            "altitude",
        )
    higher = _pressure_higher(day.altimeter)
    warmer = 0.0
    if day.temperature is not None:
        celsius = _celsius(day.temperature)
        _within("temperature", celsius, -40.0, 50.0, "C")
        warmer = celsius + 273.15 - standard_temperature(altitude + higher)

    heading = _read("heading", "angle", "deg", day.heading, 0.0)
    _within("heading", heading / DEGREE, 0.0, 360.0, "deg")
    usual = f"{maneuver.entry.wind}@{maneuver.entry.usual_wind / KNOT:.0f}"
    wind_from, wind_speed = _wind(day.wind or usual, heading, side)
    if day.heading is None and wind_speed and maneuver.entry.wind != "any":
        heading = (wind_from - side * WIND_FROM[maneuver.entry.wind]) % (2.0 * math.pi)

    entry_speed = _read("entry_speed", "speed", "kt", day.entry_speed, 0.0)
    performance = derive(airplane)
    slowest = 1.05 * stall_speed(performance, mass)
    if entry_speed == 0.0:
        entry_speed = min(
            named_speed(one, airplane, performance, mass, 0.0) for one in maneuver.entry.speed
        )
        if entry_speed < slowest:
            raise Problem(
                f"{maneuver.title}: the script's entry speed comes out at {entry_speed / KNOT:.0f} "
                f"kt, expected at least {slowest / KNOT:.0f} kt in {airplane.title}, 5 % above "
                "the stall at this weight."
            )
    _within("entry_speed", entry_speed / KNOT, slowest / KNOT, 200.0, "kt")
    if day.loops is not None:
        _within("loops", day.loops, 1, 16, "loops")
    return Conditions(
        mass,
        altitude,
        ground,
        warmer,
        wind_from,
        wind_speed,
        heading,
        entry_speed,
        day.loops,
        side,
        higher,
    )


def _read(field: str, kind: str, unit: str, given: str | None, default: float) -> float:
    if given is None:
        return default
    written = given if re.search(r"[^\d\s.,+-]", given) else f"{given} {unit}"
    try:
        return parse(kind, written.replace(",", ""))
    except ValueError as error:
        raise Problem(f"{error}.", field) from None


def _pressure_higher(given: str | None) -> float:
    """How much higher the pressure altitude is than the altitude, m.

    The height in the standard atmosphere at which the pressure is the altimeter setting
    (ICAO Doc 7488).
    """
    if given is None:
        return 0.0
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(inHg|hPa)?\s*", given, re.IGNORECASE)
    setting = float(match[1]) if match else 0.0
    if match and (match[2] or "").lower() == "hpa":
        setting *= 100.0 / INCH_OF_MERCURY
    if not 27.0 <= setting <= 32.0:
        raise Problem(
            f"found '{given}', expected inches of mercury such as 29.92, or 1013 hPa.", "altimeter"
        )
    return pressure_altitude(setting * INCH_OF_MERCURY)


def _celsius(given: str) -> float:
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(?:°?\s*C)?\s*", given, re.IGNORECASE)
    if not match:
        raise Problem(f"found '{given}', expected degrees Celsius such as '15 C'.", "temperature")
    return float(match[1])


def _wind(given: str, heading: float, side: int) -> tuple[float, float]:
    """Where the wind comes from, rad, and its speed, m/s."""
    # Also as a weather report has it, 24012KT (ICAO Annex 3), and as it is noted down, 240/12.
    report = re.fullmatch(r"\s*(\d{3})/?(\d{2,3})\s*(?:kt)?\s*", given, re.IGNORECASE)
    match = re.fullmatch(
        r"\s*(calm|across|ahead|behind|quartering|any|\d{1,3})\s*(?:@\s*(\d+(?:\.\d+)?)\s*(?:kt)?)?\s*",
        f"{report[1]}@{report[2]}" if report else given,
        re.IGNORECASE,
    )
    if not match or (match[1].isdigit() and (match[2] is None or int(match[1]) > 360)):
        raise Problem(
            f"found '{given}', expected calm, across, across@15, or the direction it comes from "
            "and knots, such as 240@15 or 24015KT.",
            "wind",
        )
    origin, speed = match[1].lower(), float(match[2] or ACROSS_KT)
    _within("wind", speed, 0.0, 60.0, "kt")
    if origin == "calm":
        return 0.0, 0.0
    if origin in WIND_FROM:
        return (heading + side * WIND_FROM[origin]) % (2.0 * math.pi), speed * KNOT
    return int(origin) * DEGREE, speed * KNOT


def _within(field: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise Problem(f"found {value:.0f} {unit}, expected {low:.0f} to {high:.0f} {unit}.", field)
