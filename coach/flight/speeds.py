"""Speeds that have a name: what a script's words mean for one airplane at one weight."""

from __future__ import annotations

import math

from coach.flight.airplane import SLOWER, Airplane
from coach.flight.atmosphere import SEA_LEVEL_DENSITY, density, indicated_airspeed
from coach.flight.performance import Performance
from coach.script.quantities import STANDARD_GRAVITY
from coach.script.targets import Target

USUAL = {
    "rotation": 1.2,
    "best angle": 1.3,
    "best rate": 1.5,
    "approach": 1.3,
    "short field": 1.3,
}
"""What stands in for a speed that an airplane's file does not give, by the clean stall speed at the
weight of the day (common practice, no source)."""

LEAST_CLEAN = 1.2
"""The slowest that one of these speeds is flown, by the clean stall speed (a model's limit): the
model has no flaps, and turns, gusts of the pitch and a go-around need room above its stall."""


def stall_speed(performance: Performance, mass: float, load_factor: float = 1.0) -> float:
    """Indicated stall speed at a mass and load factor, m/s: it rises with the root of both."""
    lift = mass * STANDARD_GRAVITY * max(0.0, load_factor)
    return math.sqrt(
        2.0 * lift / (SEA_LEVEL_DENSITY * performance.wing_area * performance.greatest_lift)
    )


def maneuvering_speed(airplane: Airplane, mass: float) -> float:
    """Maneuvering speed at a mass, m/s: it falls with the root of weight (FAA-H-8083-25)."""
    return airplane.speeds.maneuvering * math.sqrt(mass / airplane.weights.gross)


def limit_load(airplane: Airplane) -> float:
    """The load factor that an airplane is made for, by its own speeds.

    At maneuvering speed the stall comes just at the limit load, and the stall speed rises with the
    root of the load: the square of their ratio (FAA-H-8083-25, ch. 5).
    """
    return (airplane.speeds.maneuvering / airplane.speeds.stall) ** 2


def best_glide_speed(airplane: Airplane, mass: float) -> float:
    """Best-glide speed at a mass, m/s: one angle of attack, so with the root of weight."""
    return airplane.speeds.best_glide * math.sqrt(mass / airplane.weights.gross)


def handbook_speed(name: str, airplane: Airplane, performance: Performance, mass: float) -> float:
    """The indicated airspeed that one of `USUAL` is flown at, m/s.

    A handbook gives one number for climb and approach, mostly for gross weight, and that is what a
    student learns and flies at every weight, with a little more margin when light (common practice,
    no source); so it does not change with weight, and only what stands in for it does. Nothing is
    flown slower than `LEAST_CLEAN` allows.

    Args:
        name: a key of `USUAL`.
        airplane: whose speed.
        performance: derived from it.
        mass: at which.
    """
    stall = stall_speed(performance, mass)
    given = getattr(airplane.speeds, name.replace(" ", "_"))
    speed = USUAL[name] * stall if given is None else float(given)
    if given is None:  # what stands in keeps the order of what is given
        for slower, faster in SLOWER:
            least, most = getattr(airplane.speeds, slower), getattr(airplane.speeds, faster)
            if faster.replace("_", " ") == name and least is not None:
                speed = max(speed, least)
            if slower.replace("_", " ") == name and most is not None:
                speed = min(speed, most)
    return max(speed, LEAST_CLEAN * stall)


def named_speed(
    target: Target, airplane: Airplane, performance: Performance, mass: float, entry: float
) -> float:
    """An indicated airspeed of a script, such as ``1.3 stall``, m/s.

    Args:
        target: the airspeed.
        airplane: whose speeds.
        performance: derived from it.
        mass: at which.
        entry: the entry speed.
    """
    if target.base is None:
        return target.offset
    if target.base in USUAL:
        return target.of(handbook_speed(target.base, airplane, performance, mass))
    base = {
        "entry": lambda: entry,
        "stall": lambda: stall_speed(performance, mass),
        "maneuvering": lambda: maneuvering_speed(airplane, mass),
        "best glide": lambda: best_glide_speed(airplane, mass),
        "cruise": lambda: indicated_airspeed(
            airplane.cruise.speed, density(airplane.cruise.altitude)
        ),
    }[target.base]()
    return target.of(base)
