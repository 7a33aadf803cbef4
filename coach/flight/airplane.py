"""An airplane by the numbers in its own handbook, and what the physics derives from them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from coach.flight.atmosphere import SEA_LEVEL_DENSITY, density, power_ratio
from coach.problems import Problem
from coach.script.library import find
from coach.script.quantities import (
    FOOT,
    HORSEPOWER,
    KNOT,
    POUND,
    STANDARD_GRAVITY,
    Area,
    Length,
    Mass,
    Power,
    Share,
    Speed,
)
from coach.script.reading import Place, Sheet, read

SHAFT_TO_DISK = {"fixed pitch": 0.85, "constant speed": 0.88}
"""Share of shaft power that reaches the ideal propeller, the actuator disk (a model's guess)."""


class Weights(Sheet):
    """Empty and greatest take-off weight."""

    empty: Annotated[Mass, Field(ge=200 * POUND, le=6000 * POUND)]
    gross: Annotated[Mass, Field(ge=400 * POUND, le=8000 * POUND)]


class Wing(Sheet):
    """Wing area and span."""

    area: Annotated[Area, Field(ge=60 * FOOT**2, le=400 * FOOT**2)]
    span: Annotated[Length, Field(ge=15 * FOOT, le=70 * FOOT)]


class Engine(Sheet):
    """Rated power at sea level, and the propeller."""

    rated_power: Annotated[Power, Field(ge=40 * HORSEPOWER, le=500 * HORSEPOWER)]
    propeller_diameter: Annotated[Length, Field(ge=4 * FOOT, le=9 * FOOT)]
    propeller: Literal["fixed pitch", "constant speed"]


class Speeds(Sheet):
    """Indicated airspeeds in the clean configuration, power off, at gross weight."""

    stall: Annotated[Speed, Field(ge=25 * KNOT, le=90 * KNOT)]
    maneuvering: Annotated[Speed, Field(ge=50 * KNOT, le=200 * KNOT)]
    best_glide: Annotated[Speed, Field(ge=35 * KNOT, le=130 * KNOT)]


class Cruise(Sheet):
    """One row of the handbook's cruise table: true airspeed, level, gross weight, standard day."""

    speed: Annotated[Speed, Field(ge=60 * KNOT, le=250 * KNOT)]
    power: Annotated[Share, Field(ge=0.4, le=1.0)]
    altitude: Annotated[Length, Field(ge=0.0, le=15000 * FOOT)]


class Airplane(Sheet):
    """An airplane's file. ``invented`` marks one that does not exist."""

    airplane: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Annotated[str, Field(min_length=1, max_length=60)]
    invented: bool
    weights: Weights
    wing: Wing
    engine: Engine
    speeds: Speeds
    glide_ratio: Annotated[float, Field(ge=5.0, le=20.0)]
    cruise: Cruise


@dataclass(frozen=True)
class Performance:
    """What the physics needs, derived from a handbook's numbers.

    Attributes:
        wing_area: m2.
        zero_lift_drag: CD0 of the parabolic polar CD = CD0 + k CL^2, power on.
        induced_drag: k of the same.
        windmill_drag: what a propeller without power adds to CD0.
        greatest_lift: CL at the stall.
        lift_slope: CL per radian of angle of attack.
        cruise_lift: CL in cruise, where the body axis is taken to lie along the airflow.
        disk_area: area swept by the propeller, m2.
        disk_power: rated power that reaches the disk, W.
    """

    wing_area: float
    zero_lift_drag: float
    induced_drag: float
    windmill_drag: float
    greatest_lift: float
    lift_slope: float
    cruise_lift: float
    disk_area: float
    disk_power: float


def disk_thrust(power: float, true_airspeed: float, air_density: float, area: float) -> float:
    """Thrust of an actuator disk, N.

    Momentum theory (any aerodynamics text): T = 2 rho A w (w - V) and P = T w, where w is the speed
    of the air through the disk. The cubic w^3 - V w^2 - P / (2 rho A) = 0 has one real root.
    """
    if power <= 0.0:
        return 0.0
    c = power / (2.0 * air_density * area)
    third = true_airspeed / 3.0
    through = third * (1.0 + 2.0 * math.cosh(math.acosh(1.0 + 0.5 * c / third**3) / 3.0))
    return power / through


def power_for_thrust(thrust: float, true_airspeed: float, air_density: float, area: float) -> float:
    """Power that an actuator disk needs for a thrust, W: the inverse of `disk_thrust`."""
    if thrust <= 0.0:
        return 0.0
    pressure = thrust / (2.0 * air_density * area)
    return thrust * 0.5 * (true_airspeed + math.sqrt(true_airspeed**2 + 4.0 * pressure))


def lift_slope(aspect_ratio: float) -> float:
    """CL per radian of a straight wing (Helmbold's formula, from memory)."""
    return 2.0 * math.pi * aspect_ratio / (2.0 + math.sqrt(4.0 + aspect_ratio**2))


def derive(airplane: Airplane) -> Performance:
    """The polar and the thrust behind a handbook's numbers.

    At best glide, zero-lift and induced drag are equal and their coefficients follow from speed and
    ratio (any aerodynamics text). A glide is flown with the propeller windmilling, so the zero-lift
    drag with power is taken from the cruise row instead, and the difference is the windmill's.

    Raises:
        Problem: the glide and the cruise contradict each other; the sentence says how.
    """
    weight = airplane.weights.gross * STANDARD_GRAVITY
    area = airplane.wing.area

    def lift(speed: float, air_density: float) -> float:
        return 2.0 * weight / (air_density * area * speed**2)

    glide_lift = lift(airplane.speeds.best_glide, SEA_LEVEL_DENSITY)
    glide_drag = glide_lift / (2.0 * airplane.glide_ratio)
    induced = glide_drag / glide_lift**2

    air = density(airplane.cruise.altitude)
    speed = airplane.cruise.speed
    cruise_lift = lift(speed, air)
    disk_area = math.pi * airplane.engine.propeller_diameter**2 / 4.0
    disk_power = airplane.engine.rated_power * SHAFT_TO_DISK[airplane.engine.propeller]
    thrust = disk_thrust(airplane.cruise.power * disk_power, speed, air, disk_area)
    zero_lift = 2.0 * thrust / (air * area * speed**2) - induced * cruise_lift**2
    if zero_lift > glide_drag:
        # Slower than this power suggests: the drag is the glide's, and more of the power is lost.
        zero_lift = glide_drag
        drag = (zero_lift + induced * cruise_lift**2) * air * area * speed**2 / 2.0
        needed = power_for_thrust(drag, speed, air, disk_area)
        disk_power = needed / airplane.cruise.power
    reaches = disk_power / airplane.engine.rated_power
    if zero_lift < 0.5 * glide_drag or reaches < 0.55:
        raise Problem(
            f"{airplane.title}: cruise and glide do not agree: {speed / KNOT:.0f} kt at "
            f"{airplane.cruise.power:.0%} is too {'slow' if reaches < 0.55 else 'fast'} for an "
            f"airplane that glides {airplane.glide_ratio:g} to 1 at "
            f"{airplane.speeds.best_glide / KNOT:.0f} kt."
        )
    return Performance(
        wing_area=area,
        zero_lift_drag=zero_lift,
        induced_drag=induced,
        windmill_drag=glide_drag - zero_lift,
        greatest_lift=lift(airplane.speeds.stall, SEA_LEVEL_DENSITY),
        lift_slope=lift_slope(airplane.wing.span**2 / area),
        cruise_lift=cruise_lift,
        disk_area=disk_area,
        disk_power=disk_power,
    )


def faults(airplane: Airplane) -> Iterable[tuple[Place, str]]:
    """Numbers that cannot all be true of one airplane."""
    speeds = airplane.speeds
    if airplane.weights.empty >= airplane.weights.gross:
        yield ("weights", "empty"), "empty must weigh less than gross"
    if not speeds.stall < speeds.best_glide:
        yield ("speeds", "best glide"), "best glide must be faster than the stall"
    if not speeds.stall * 1.3 < speeds.maneuvering:
        yield ("speeds", "maneuvering"), "maneuvering must be at least 1.3 times the stall speed"
    if power_ratio(density(airplane.cruise.altitude)) < airplane.cruise.power:
        yield ("cruise", "power"), "the engine cannot give this power at that altitude"


def load(name: str) -> Airplane:
    """An airplane of the library, or of a file.

    Raises:
        Problem: there is none, its file has a fault, or its numbers contradict each other.
    """
    path: Path = find("airplanes", name)
    airplane = read(path, Airplane, faults)
    derive(airplane)
    return airplane
