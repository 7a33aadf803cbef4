"""The day: weight, altitude, temperature, wind, and which way the maneuver is flown."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from coach.flight.airplane import Airplane
from coach.flight.atmosphere import (
    density,
    pressure_altitude,
    standard_temperature,
    true_airspeed,
)
from coach.flight.day import CHOICES, Day
from coach.flight.fit import derive
from coach.flight.guidance import along, over_ground, pivotal_altitude
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
class Conditions:
    """One airplane's day, in SI units and radians.

    Attributes:
        mass: kg.
        altitude: entry altitude above mean sea level, m.
        ground: elevation of the ground below, m.
        warmer: how much warmer than standard, K.
        wind_from: the direction the wind blows from, clockwise from north.
        wind_speed: m/s.
        heading: entry heading, or course where the ground is flown by, clockwise from north.
        entry_speed: indicated, m/s.
        loops: how many loops, or None for the whole figure.
        first_side: direction of the first turn, +1 right, -1 left.
        pressure_higher: how much higher the pressure altitude is than the altitude, m.
    """

    mass: float
    altitude: float
    ground: float
    warmer: float
    wind_from: float
    wind_speed: float
    heading: float
    entry_speed: float
    loops: int | None
    first_side: int
    pressure_higher: float = 0.0

    @property
    def temperature(self) -> float:
        """Air temperature at the entry altitude, K."""
        return standard_temperature(self.altitude + self.pressure_higher) + self.warmer

    def density(self, altitude: float) -> float:
        """Air density at an altitude on this day, kg/m3."""
        return density(altitude + self.pressure_higher, self.warmer)

    @property
    def crosswind(self) -> float:
        """Angle between the entry heading and the wind, 0 (ahead or behind) to pi/2 (across)."""
        return abs(math.remainder(self.wind_from - self.heading, math.pi))

    @property
    def wind(self) -> tuple[float, float]:
        """The velocity of the air over the ground, east and north, m/s."""
        return (
            -self.wind_speed * math.sin(self.wind_from),
            -self.wind_speed * math.cos(self.wind_from),
        )

    @property
    def pivotal_height(self) -> float:
        """Height above the ground at which the entry has a pylon stay on the wing tip, m."""
        speed = true_airspeed(self.entry_speed, self.density(self.altitude))
        velocity = over_ground(speed, self.heading, 0.0, self.wind)
        return pivotal_altitude(speed, along(velocity, self.heading))


def conditions(day: Day, maneuver: Maneuver, airplane: Airplane) -> Conditions:
    """The day in numbers.

    Raises:
        Problem: a value cannot be read, or lies outside what the airplane or the model allows.
    """
    side = 1 if (day.direction or maneuver.usual_side) == "right" else -1
    gross, empty = airplane.weights.gross, airplane.weights.empty
    mass = _read("weight", day.weight, gross)
    if not empty <= mass <= gross + 1e-6:
        raise Problem(
            f"found {mass / POUND:.0f} lb, but {airplane.title} weighs {empty / POUND:.0f} lb "
            f"empty and at most {gross / POUND:.0f} lb.",
            "weight",
        )
    ground = _read("ground", day.ground, 0.0)
    _within("ground", ground / FOOT)
    higher = _pressure_higher(day.altimeter)
    heading = _read("heading", day.heading, 0.0)
    _within("heading", heading / DEGREE)
    usual = f"{maneuver.entry.wind}@{maneuver.entry.usual_wind / KNOT:.0f}"
    wind_from, wind_speed = _wind(day.wind or usual, heading, side)
    if day.heading is None and wind_speed and maneuver.entry.wind != "any":
        heading = (wind_from - side * WIND_FROM[maneuver.entry.wind]) % (2.0 * math.pi)
    entry_speed = _entry_speed(day, maneuver, airplane, mass)
    if day.loops is not None:
        _within("loops", day.loops)

    def at(altitude: float) -> Conditions:
        """The day where the maneuver is entered at an altitude: its temperature is for there."""
        warmer = 0.0
        if day.temperature is not None:
            celsius = _celsius(day.temperature)
            _within("temperature", celsius)
            warmer = celsius + 273.15 - standard_temperature(altitude + higher)
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

    found = at(_read("altitude", day.altitude, ground))
    height = maneuver.entry.height
    if day.altitude is None:
        for _ in range(3):  # a pivotal altitude depends a little on the air there
            found = at(ground + height.of(found.pivotal_height))
    altitude, entered = found.altitude, height.of(found.pivotal_height)
    _within("altitude", altitude / FOOT)
    if altitude <= ground:
        raise Problem(
            f"found {altitude / FOOT:.0f} ft, but the ground is at {ground / FOOT:.0f} ft.",
            "altitude",
        )
    if maneuver.entry.near_ground and altitude - ground > HIGHER * entered:
        raise Problem(
            f"found {altitude / FOOT:.0f} ft, but {maneuver.title.lower()} is entered "
            f"{entered / FOOT:.0f} ft above the ground, which is at "
            f"{ground / FOOT:.0f} ft: give the elevation of the ground too.",
            "altitude",
        )
    return found


def _entry_speed(day: Day, maneuver: Maneuver, airplane: Airplane, mass: float) -> float:
    """The indicated airspeed at which a maneuver is entered, m/s."""
    speed = _read("entry_speed", day.entry_speed, 0.0)
    performance = derive(airplane)
    slowest = 1.05 * stall_speed(performance, mass)
    if speed == 0.0:
        speed = min(
            named_speed(one, airplane, performance, mass, 0.0) for one in maneuver.entry.speed
        )
        if speed < slowest:
            raise Problem(
                f"{maneuver.title}: the script's entry speed comes out at {speed / KNOT:.0f} "
                f"kt, expected at least {slowest / KNOT:.0f} kt in {airplane.title}, 5 % above "
                "the stall at this weight."
            )
    _within("entry_speed", speed / KNOT, slowest / KNOT)
    return speed


def _read(field: str, given: str | None, default: float) -> float:
    """A quantity in SI units."""
    row = CHOICES[field]
    if given is None:
        return default
    written = given if re.search(r"[^\d\s.,+-]", given) else f"{given} {row.unit}"
    try:
        return parse(row.kind, written.replace(",", ""))
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
    row = CHOICES["altimeter"]
    if not row.least <= setting <= row.most:
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
    _within("wind", speed)
    if origin == "calm":
        return 0.0, 0.0
    if origin in WIND_FROM:
        return (heading + side * WIND_FROM[origin]) % (2.0 * math.pi), speed * KNOT
    return int(origin) * DEGREE, speed * KNOT


def _within(field: str, value: float, least: float | None = None) -> None:
    """Look that a value, in its unit, is within its limits; ``least`` is the airplane's own."""
    row = CHOICES[field]
    low, high, unit = row.least if least is None else least, row.most, row.unit
    if not low <= value <= high:
        raise Problem(f"found {value:.0f} {unit}, expected {low:.0f} to {high:.0f} {unit}.", field)
