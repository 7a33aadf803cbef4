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
from coach.script.catalog import find
from coach.script.contents import Place
from coach.script.quantities import KNOT, STANDARD_GRAVITY, Quantity
from coach.script.reading import Sheet, read

OF_IDEAL_THRUST = {"fixed pitch": 0.81, "constant speed": 0.833}
"""Thrust of a propeller over that of the ideal one, the actuator disk, for the same shaft power.

Constant speed: measured on JSBSim's model c182 from 82 to 125 kt and 45 to 75 % power, where it
holds within 1.5 %. Fixed pitch: a model's guess.
"""

WITH_TAIL = 1.055
"""Lift slope of the whole airplane over its wing's: fuselage and tail lift as well.

Measured on JSBSim's model c182: 5.07 per radian, trimmed. For another airplane a model's guess.
"""

MOST_CAMBER = 0.45
"""Greatest lift at least drag, as a share of the lift at best glide, that the fit may find."""

FASTEST_MANEUVERING = 2.5
"""Maneuvering speed by the stall at most: the root of a limit load factor of 6, which 14 CFR 23.337
asked of acrobatic airplanes (from memory)."""


class Weights(Sheet):
    """Empty and greatest take-off weight."""

    empty: Annotated[float, Quantity("mass", "200 lb", "6000 lb")]
    gross: Annotated[float, Quantity("mass", "400 lb", "8000 lb")]


class Wing(Sheet):
    """Wing area and span."""

    area: Annotated[float, Quantity("area", "60 sq ft", "400 sq ft")]
    span: Annotated[float, Quantity("length", "15 ft", "70 ft")]


class Engine(Sheet):
    """Rated power at sea level, and the propeller."""

    rated_power: Annotated[float, Quantity("power", "40 hp", "500 hp")]
    propeller_diameter: Annotated[float, Quantity("length", "4 ft", "9 ft")]
    propeller: Literal["fixed pitch", "constant speed"]


class Speeds(Sheet):
    """Indicated airspeeds in the clean configuration, power off, at gross weight."""

    stall: Annotated[float, Quantity("speed", "25 kt", "90 kt")]
    maneuvering: Annotated[float, Quantity("speed", "50 kt", "200 kt")]
    best_glide: Annotated[float, Quantity("speed", "35 kt", "130 kt")]


class Cruise(Sheet):
    """One row of the handbook's cruise table: true airspeed, level, gross weight, standard day."""

    speed: Annotated[float, Quantity("speed", "60 kt", "250 kt")]
    power: Annotated[float, Quantity("share", "40 %", "100 %")]
    altitude: Annotated[float, Quantity("length", "0 ft", "15000 ft")]


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
        least_drag: least CD of the parabolic polar, power on.
        least_drag_lift: the CL of that.
        induced_drag: k of the same: CD = least_drag + k (CL - least_drag_lift)^2.
        windmill_drag: what a propeller without power adds to CD.
        greatest_lift: CL at the stall.
        lift_slope: CL per radian of angle of attack.
        cruise_lift: CL in cruise, where the body axis is taken to lie along the airflow.
        disk_area: area swept by the propeller, m2.
        rated_power: at the shaft, W.
        of_ideal_thrust: thrust over that of the ideal propeller with the same shaft power.
    """

    wing_area: float
    least_drag: float
    least_drag_lift: float
    induced_drag: float
    windmill_drag: float
    greatest_lift: float
    lift_slope: float
    cruise_lift: float
    disk_area: float
    rated_power: float
    of_ideal_thrust: float

    def drag_coefficient(self, lift_coefficient: float, windmilling: float = 0.0) -> float:
        """CD of the polar; ``windmilling`` is the share of the windmill's drag that acts."""
        beyond = lift_coefficient - self.least_drag_lift
        return self.least_drag + self.windmill_drag * windmilling + self.induced_drag * beyond**2

    def thrust(self, power_share: float, true_airspeed: float, air_density: float) -> float:
        """Thrust of the propeller at a share of rated power, N."""
        power = power_share * self.rated_power
        ideal = disk_thrust(power, true_airspeed, air_density, self.disk_area)
        return self.of_ideal_thrust * ideal

    def power_share(self, thrust: float, true_airspeed: float, air_density: float) -> float:
        """Share of rated power that a thrust takes: the inverse of `thrust`; none below zero."""
        ideal = thrust / self.of_ideal_thrust
        power = power_for_thrust(ideal, true_airspeed, air_density, self.disk_area)
        return power / self.rated_power


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

    The parabola CD = CDmin + k (CL - CL0)^2 (any aerodynamics text, for a cambered wing) has three
    numbers, and the handbook three conditions: at best glide it has the handbook's ratio, and there
    its tangent goes through the origin, which makes that ratio the best; and in the cruise row drag
    equals thrust. Where that asks for a CL0 that no wing has, it stays at its limit, and what is
    left over is put down to the propeller. Less drag in cruise than in a glide with CL0 = 0: the
    glide was flown with the propeller windmilling, and the difference is the windmill's. More drag
    than with the greatest CL0: this propeller gives less of the ideal thrust.

    Raises:
        Problem: the glide and the cruise contradict each other; the sentence says how.
    """
    weight = airplane.weights.gross * STANDARD_GRAVITY
    area = airplane.wing.area
    disk_area = math.pi * airplane.engine.propeller_diameter**2 / 4.0

    def lift(speed: float, air_density: float) -> float:
        return 2.0 * weight / (air_density * area * speed**2)

    air, speed = density(airplane.cruise.altitude), airplane.cruise.speed
    power = airplane.cruise.power * airplane.engine.rated_power
    of_ideal = OF_IDEAL_THRUST[airplane.engine.propeller]
    thrust = of_ideal * disk_thrust(power, speed, air, disk_area)
    cruise_lift = lift(speed, air)
    cruise_drag = 2.0 * thrust / (air * area * speed**2)

    glide_lift = lift(airplane.speeds.best_glide, SEA_LEVEL_DENSITY)
    tangent = 1.0 / airplane.glide_ratio
    curvature = (cruise_drag - tangent * cruise_lift) / max((glide_lift - cruise_lift) ** 2, 1e-6)
    uncambered = tangent / (2.0 * glide_lift)
    camber = 1.0 - uncambered / max(curvature, uncambered)
    least_lift = min(camber, MOST_CAMBER) * glide_lift
    induced = tangent / (2.0 * (glide_lift - least_lift))
    least_drag = tangent * glide_lift - induced * (glide_lift - least_lift) ** 2

    predicted = least_drag + induced * (cruise_lift - least_lift) ** 2
    windmill = max(0.0, predicted - cruise_drag) if camber == 0.0 else 0.0
    if camber > MOST_CAMBER:
        of_ideal *= predicted / cruise_drag
    if windmill > 0.5 * least_drag or of_ideal < 0.55:
        raise Problem(
            f"{airplane.title}: cruise and glide do not agree: {speed / KNOT:.0f} kt at "
            f"{airplane.cruise.power:.0%} is too {'slow' if of_ideal < 0.55 else 'fast'} for an "
            f"airplane that glides {airplane.glide_ratio:g} to 1 at "
            f"{airplane.speeds.best_glide / KNOT:.0f} kt."
        )
    return Performance(
        wing_area=area,
        least_drag=least_drag - windmill,
        least_drag_lift=least_lift,
        induced_drag=induced,
        windmill_drag=windmill,
        greatest_lift=lift(airplane.speeds.stall, SEA_LEVEL_DENSITY),
        lift_slope=WITH_TAIL * lift_slope(airplane.wing.span**2 / area),
        cruise_lift=cruise_lift,
        disk_area=disk_area,
        rated_power=airplane.engine.rated_power,
        of_ideal_thrust=of_ideal,
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
    if speeds.maneuvering > FASTEST_MANEUVERING * speeds.stall:
        yield (
            ("speeds", "maneuvering"),
            f"maneuvering must be at most {FASTEST_MANEUVERING} times the stall speed; are both "
            "indicated, and at gross weight?",
        )
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
