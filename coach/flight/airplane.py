"""An airplane by the numbers in its own handbook: its file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field

from coach.flight.atmosphere import density, power_ratio
from coach.flight.setting import PowerSetting
from coach.script.catalog import find
from coach.script.contents import Place
from coach.script.quantities import DEGREE, KNOT, Quantity
from coach.script.reading import Sheet, read

RATED_TURNS = 2700.0 / 60.0
"""Revolutions a second at rated power, where the file does not say (common practice, no source)."""

NARROWEST = 3.5
"""Least aspect ratio taken, and a quarter of the greatest (common practice, no source: light
airplanes have 5 to 11)."""

FASTEST_MANEUVERING = 2.5
"""Maneuvering speed by the stall at most: the root of a limit load factor of 6, which 14 CFR 23.337
asked of acrobatic airplanes (from memory)."""

MILE_AN_HOUR = 0.44704  # exact

Turns = Annotated[float, Quantity("speed of rotation", "1500 rpm", "6000 rpm")]


class Weights(Sheet):
    """Empty and greatest take-off weight."""

    empty: Annotated[float, Quantity("mass", "200 lb", "6000 lb")]
    gross: Annotated[float, Quantity("mass", "400 lb", "8000 lb")]


class Wing(Sheet):
    """Wing area and span."""

    area: Annotated[float, Quantity("area", "60 sq ft", "400 sq ft")]
    span: Annotated[float, Quantity("length", "15 ft", "70 ft")]

    @property
    def aspect(self) -> float:
        """Aspect ratio: span over mean depth."""
        return self.span**2 / self.area


class Engine(Sheet):
    """Rated power at sea level and its revolutions, and the propeller."""

    rated_power: Annotated[float, Quantity("power", "40 hp", "500 hp")]
    rated_revolutions: Turns = RATED_TURNS
    propeller_diameter: Annotated[float, Quantity("length", "4 ft", "9 ft")]
    propeller: Literal["fixed pitch", "constant speed"]

    @property
    def disk(self) -> float:
        """Area that the propeller sweeps, m2."""
        return math.pi * self.propeller_diameter**2 / 4.0


SLOWER = (
    ("best_angle", "best_rate"),
    ("short_field", "approach"),
    ("rotation", "best_rate"),
    ("approach", "flaps_extended"),
    ("gear_operating", "gear_extended"),
)
"""Of two speeds the one that is never the faster: best angle and best rate meet only at the
absolute ceiling (FAA-H-8083-25, ch. 11, from memory); the others follow from what they are."""


class Speeds(Sheet):
    """Indicated airspeeds at gross weight.

    Stall, maneuvering speed and best glide are those of the clean airplane with the power off. The
    others are what a student flies by, most of them with flaps, and the file may leave each of them
    out: VR, VX, VY, VFE, VLO and VLE by 14 CFR 1.2; an approach speed and one for a short field
    stand among a handbook's normal procedures.
    """

    stall: Annotated[float, Quantity("speed", "25 kt", "90 kt")]
    maneuvering: Annotated[float, Quantity("speed", "50 kt", "200 kt")]
    best_glide: Annotated[float, Quantity("speed", "35 kt", "130 kt")]
    never_exceed: Annotated[float, Quantity("speed", "60 kt", "300 kt")] | None = None
    rotation: Annotated[float, Quantity("speed", "25 kt", "120 kt")] | None = None
    best_angle: Annotated[float, Quantity("speed", "25 kt", "150 kt")] | None = None
    best_rate: Annotated[float, Quantity("speed", "30 kt", "170 kt")] | None = None
    approach: Annotated[float, Quantity("speed", "25 kt", "140 kt")] | None = None
    short_field: Annotated[float, Quantity("speed", "25 kt", "130 kt")] | None = None
    flaps_extended: Annotated[float, Quantity("speed", "35 kt", "200 kt")] | None = None
    gear_operating: Annotated[float, Quantity("speed", "50 kt", "250 kt")] | None = None
    gear_extended: Annotated[float, Quantity("speed", "50 kt", "250 kt")] | None = None


class Powers(Sheet):
    """Settings that a student flies by, as a handbook or an instructor gives them."""

    climb: PowerSetting | None = None
    descent: PowerSetting | None = None
    pattern: PowerSetting | None = None
    approach: PowerSetting | None = None
    slow_flight: PowerSetting | None = None


class Cruise(Sheet):
    """One row of the handbook's cruise table: true airspeed, level, gross weight, standard day."""

    speed: Annotated[float, Quantity("speed", "60 kt", "250 kt")]
    power: Annotated[float, Quantity("share", "40 %", "100 %")]
    altitude: Annotated[float, Quantity("length", "0 ft", "15000 ft")]
    revolutions: Turns | None = None


class Climb(Sheet):
    """One row of the handbook's climb table: indicated airspeed, full throttle, gross weight."""

    speed: Annotated[float, Quantity("speed", "40 kt", "150 kt")]
    rate: Annotated[float, Quantity("climb rate", "100 fpm", "3000 fpm")]
    altitude: Annotated[float, Quantity("length", "0 ft", "15000 ft")]


class Airplane(Sheet):
    """An airplane's file.

    ``invented`` marks one that does not exist. ``flaps`` are the steps in order, rad: an empty list
    is an airplane without, None a file that does not say; likewise of the gear.
    """

    airplane: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Annotated[str, Field(min_length=1, max_length=60)]
    invented: bool
    weights: Weights
    wing: Wing
    engine: Engine
    speeds: Speeds
    glide_ratio: Annotated[float, Field(ge=5.0, le=20.0)]
    cruise: Cruise
    climb: Climb | None = None
    flaps: (
        Annotated[
            tuple[Annotated[float, Quantity("angle", "1 deg", "70 deg")], ...], Field(max_length=6)
        ]
        | None
    ) = None
    gear: Literal["fixed", "retractable"] | None = None
    power: Powers = Powers()


def faults(airplane: Airplane) -> Iterable[tuple[Place, str]]:
    """Numbers that cannot all be true of one airplane."""
    speeds = airplane.speeds
    if airplane.weights.empty >= airplane.weights.gross:
        yield ("weights", "empty"), "empty must weigh less than gross"
    if not speeds.stall < speeds.best_glide:
        yield ("speeds", "best glide"), "best glide must be faster than the stall"
    if not speeds.stall * 1.3 < speeds.maneuvering:
        yield ("speeds", "maneuvering"), "maneuvering must be at least 1.3 times the stall speed"
    if speeds.maneuvering > FASTEST_MANEUVERING * speeds.stall:
        yield (
            ("speeds", "maneuvering"),
            f"maneuvering must be at most {FASTEST_MANEUVERING} times the stall speed; are both "
            "indicated, and at gross weight?",
        )
    if speeds.never_exceed is not None and speeds.never_exceed <= speeds.maneuvering:
        yield ("speeds", "never exceed"), "never exceed must be faster than maneuvering"
    aspect = airplane.wing.aspect
    if not NARROWEST < aspect < 4.0 * NARROWEST:
        yield (
            ("wing", "area"),
            f"area and span do not fit: the wing would be {aspect:.1f} times as long as it is "
            "deep, and light airplanes have 5 to 11; is each in its right unit, and the span from "
            "tip to tip?",
        )
    if power_ratio(density(airplane.cruise.altitude)) < airplane.cruise.power:
        yield ("cruise", "power"), "the engine cannot give this power at that altitude"
    yield from _speed_faults(airplane)
    yield from _part_faults(airplane)


def _speed_faults(airplane: Airplane) -> Iterable[tuple[Place, str]]:
    """Speeds in an order that cannot be."""
    speeds = {key: value for key, value in airplane.speeds if value is not None}

    def told(key: str) -> str:
        return f"{key.replace('_', ' ')} ({speeds[key] / KNOT:g} kt)"

    for key in speeds:
        place = ("speeds", key.replace("_", " "))
        # A take-off with flaps may leave the ground below the stall speed without.
        if key not in ("stall", "rotation") and speeds[key] <= speeds["stall"]:
            yield place, f"{told(key)} must be faster than the {told('stall')}"
        fastest = speeds.get("never_exceed")
        if key != "never_exceed" and fastest is not None and speeds[key] >= fastest:
            yield place, f"{told(key)} must be slower than {told('never_exceed')}"
    for slower, faster in SLOWER:
        if slower in speeds and faster in speeds and speeds[slower] > speeds[faster]:
            place = ("speeds", slower.replace("_", " "))
            yield place, f"{told(slower)} must not be faster than {told(faster)}"


def _part_faults(airplane: Airplane) -> Iterable[tuple[Place, str]]:
    """Flaps, gear and power settings that the airplane has not got."""
    speeds, steps = airplane.speeds, airplane.flaps or ()
    for index, (step, after) in enumerate(pairwise(steps), start=1):
        if after <= step:
            yield (
                ("flaps", index),
                f"flap steps must increase, but {after / DEGREE:g} deg follows {step / DEGREE:g}",
            )
    if airplane.flaps == () and speeds.flaps_extended is not None:
        yield ("speeds", "flaps extended"), "an airplane without flaps has no speed for them"
    for key in ("gear_operating", "gear_extended"):
        if getattr(speeds, key) is not None and airplane.gear != "retractable":
            name = key.replace("_", " ")
            yield ("speeds", name), f"{name} is a speed of 'gear: retractable', which is not here"
    rated = airplane.engine.rated_revolutions
    for key, setting in airplane.power:
        if setting is None or setting.turns is None:
            continue
        place = ("power", key.replace("_", " "))
        fixed = airplane.engine.propeller == "fixed pitch"
        if fixed and setting.inches is not None:
            yield place, "a propeller of fixed pitch is set by revolutions alone, such as 2100 rpm"
        if not fixed and setting.inches is None:
            yield (
                place,
                "revolutions alone do not say the power of a constant speed propeller; expected "
                "'20 in 2300 rpm' or '55 %'",
            )
        if "rated_revolutions" in airplane.engine.model_fields_set and setting.turns > rated:
            yield place, f"{setting.text} is more than the rated {60.0 * rated:,.0f} rpm"


def load(name: str) -> Airplane:
    """An airplane of the library, or of a file.

    Raises:
        Problem: there is none, or its file has a fault.
    """
    return read(find("airplanes", name), Airplane, faults)


def in_knots(airplane: Airplane) -> Airplane:
    """The same, had its speeds been written in miles an hour."""
    changed = {}
    for name in ("speeds", "cruise", "climb"):
        if (row := getattr(airplane, name)) is not None:
            speeds = {
                field: value * MILE_AN_HOUR / KNOT
                for field, value in row
                if (name == "speeds" or field == "speed") and value is not None
            }
            changed[name] = row.model_copy(update=speeds)
    return airplane.model_copy(update=changed)
