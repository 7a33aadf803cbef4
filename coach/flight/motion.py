"""A point mass in coordinated flight: what acts on it, and its rates of change.

Speeds are true, m/s; angles radians; bank and turns right positive. The state is true airspeed,
azimuth of the flight path, altitude and flight-path angle. The azimuth is the direction in which
the airplane moves through the air, clockwise from north; where it is banked its nose points ahead
of that into the turn: see `heading`. Wind does not enter: it moves the air the airplane is in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from coach.flight.performance import Performance
from coach.flight.propeller import Output
from coach.script.quantities import STANDARD_GRAVITY

LEVER_TIME = 1.0
"""Seconds in which hand, engine and propeller take up most of another throttle, and as many again
for most of the rest: moved smoothly, a lever takes two or three (common practice, no source).
Closing it takes JSBSim's models c182 0.7 and c172p 1.4, opening it from idle some 1.3."""

THERE = 0.005
"""A throttle as near as this to where it goes is there."""


class State(NamedTuple):
    """Where the motion stands."""

    speed: float
    azimuth: float
    altitude: float
    path: float


class Forces(NamedTuple):
    """What acts in one instant, and what follows from it."""

    alpha: float
    lift_coefficient: float
    load_factor: float
    acceleration: float
    turn_rate: float
    path_rate: float
    thrust: float
    power: float
    turns: float


class _Pull(NamedTuple):
    """Air density, and what engine and propeller give in one instant."""

    air: float
    output: Output


@dataclass(frozen=True)
class Machine:
    """An airplane at one weight on one day, with its throttle.

    Attributes:
        performance: of the airplane.
        mass: kg.
        throttle: what engine and propeller give now, as `coach.flight.propeller` has it.
        density: of the air at an altitude.
        lever: the throttle that they come to; None where they have.
    """

    performance: Performance
    mass: float
    throttle: float
    density: Callable[[float], float]
    lever: float | None = None

    def later(self, time: float) -> Machine:
        """The same so many seconds later."""
        if self.lever is None:
            return self
        left = (self.throttle - self.lever) * math.exp(-time / LEVER_TIME)
        if abs(left) < THERE:
            return replace(self, throttle=self.lever, lever=None)
        return replace(self, throttle=self.lever + left)

    def alpha(self, lift_coefficient: float) -> float:
        """Angle between the body axis and the airflow; zero at the cruise's lift."""
        plane = self.performance
        return (lift_coefficient - plane.cruise_lift) / plane.lift_slope

    def output(self, state: State) -> Output:
        """What engine and propeller give."""
        air = self.density(state.altitude)
        return self.performance.propeller.output(self.throttle, state.speed, air)

    def drag(self, lift_coefficient: float, dynamic: float) -> float:
        """Drag from the parabolic polar, without the propeller's, N."""
        plane = self.performance
        return plane.drag_coefficient(lift_coefficient) * dynamic * plane.wing_area

    def lag(self, state: State) -> float:
        """Seconds in which the flight path follows the nose: m V over the lift that a radian adds.

        From m V gamma' = L - W with L in proportion to the angle of attack.
        """
        plane = self.performance
        air = self.density(state.altitude)
        return 2.0 * self.mass / (air * state.speed * plane.wing_area * plane.lift_slope)

    def by_attitude(self, state: State, bank: float, pitch: float) -> Forces:
        """Forces when the pitch attitude is given.

        Without sideslip, sin(gamma) = cos(alpha) sin(theta) - sin(alpha) cos(phi) cos(theta)
        (the vertical part of the velocity in body axes), solved for alpha. The lift is tilted about
        the flight path by mu: sin(mu) cos(gamma) = sin(phi) cos(theta), and
        cos(mu) cos(gamma) = sin(alpha) sin(theta) + cos(alpha) cos(phi) cos(theta).
        """
        ahead, along = math.cos(pitch), math.sin(pitch)
        across, aside = math.cos(bank) * ahead, math.sin(bank) * ahead
        whole = math.hypot(across, along)
        # alpha is the angle whose cosine is sin(gamma) / whole, less that of (along, across).
        tilt = max(-1.0, min(1.0, math.sin(state.path) / whole))
        rest = math.sqrt(1.0 - tilt * tilt)
        sine = (rest * along - tilt * across) / whole
        cosine = (tilt * along + rest * across) / whole
        alpha = math.atan2(sine, cosine)
        lift = self.performance.cruise_lift + self.performance.lift_slope * alpha
        flat = math.cos(state.path)
        lean = ((sine * along + cosine * across) / flat, aside / flat)
        return self._forces(state, lean, alpha, lift, None, self._pull(state))

    def by_path(self, state: State, bank: float, path_rate: float) -> Forces:
        """Forces when the flight path is given.

        Solved backwards: (L + T sin(alpha)) cos(mu) = W cos(gamma) + m V gamma'.
        """
        pull = self._pull(state)
        scale = 0.5 * pull.air * state.speed**2 * self.performance.wing_area
        wanted = STANDARD_GRAVITY * math.cos(state.path) + state.speed * path_rate
        lean, alpha = bank, self.alpha(self.mass * wanted / math.cos(bank) / scale)
        for _ in range(2):  # both change the lift by little: this converges at once
            lean = lift_bank(bank, alpha, state.path)
            normal = self.mass * wanted / math.cos(lean)
            alpha = self.alpha((normal - pull.output.thrust * math.sin(alpha)) / scale)
        lift = (normal - pull.output.thrust * math.sin(alpha)) / scale
        tilted = (math.cos(lean), math.sin(lean))
        return self._forces(state, tilted, alpha, lift, path_rate, pull)

    def _pull(self, state: State) -> _Pull:
        air = self.density(state.altitude)
        return _Pull(air, self.performance.propeller.output(self.throttle, state.speed, air))

    def _forces(
        self, state: State, lean: tuple[float, float], alpha: float, lift: float,
        path_rate: float | None, pull: _Pull,
    ) -> Forces:  # fmt: skip
        """The equations of motion: V', psi' and gamma' from lift, drag and thrust.

        ``lean`` has cosine and sine of the bank of the lift about the flight path.
        """
        air, (thrust, power, turns) = pull
        dynamic = 0.5 * air * state.speed**2
        normal = (
            lift * dynamic * self.performance.wing_area + thrust * math.sin(alpha)
        ) / self.mass
        drag = self.drag(lift, dynamic)
        climb = math.cos(state.path)
        if path_rate is None:
            path_rate = (normal * lean[0] - STANDARD_GRAVITY * climb) / state.speed
        return Forces(
            alpha=alpha,
            lift_coefficient=lift,
            load_factor=normal / STANDARD_GRAVITY,
            acceleration=(thrust * math.cos(alpha) - drag) / self.mass
            - STANDARD_GRAVITY * math.sin(state.path),
            turn_rate=normal * lean[1] / (state.speed * climb),
            path_rate=path_rate,
            thrust=thrust,
            power=power,
            turns=turns,
        )

    def level(self, speed: float, altitude: float) -> Forces:
        """Straight and level flight at a true airspeed; ``alpha`` is its pitch attitude."""
        return self.by_path(State(speed, 0.0, altitude, 0.0), 0.0, 0.0)


def lift_bank(bank: float, alpha: float, path: float) -> float:
    """Bank mu of the lift about the flight path, from the bank phi that a pilot sees.

    Without sideslip tan(phi) = sin(mu) / (cos(alpha) cos(mu) - sin(alpha) tan(gamma)), which is
    sin(mu) = sin(phi) cos(theta) / cos(gamma) with the pitch attitude left out (the velocity's axes
    against the body's, any text on flight dynamics); solved here for mu.
    """
    across, up = math.sin(bank) * math.cos(alpha), math.cos(bank)
    off = math.sin(bank) * math.sin(alpha) * math.tan(path) / math.hypot(across, up)
    return math.atan2(across, up) - math.asin(max(-1.0, min(1.0, off)))


def pitch_of(path: float, alpha: float, bank: float) -> float:
    """Pitch attitude from flight path, angle of attack and bank, without sideslip.

    The inverse of the relation in `Machine.by_attitude`.
    """
    radius = math.hypot(math.cos(alpha), math.sin(alpha) * math.cos(bank))
    turn = math.atan2(math.sin(alpha) * math.cos(bank), math.cos(alpha))
    return math.asin(max(-1.0, min(1.0, math.sin(path) / radius))) + turn


def heading(azimuth: float, alpha: float, bank: float, pitch: float) -> float:
    """Where the nose points, from the azimuth of the flight path, without sideslip.

    The nose is higher than the flight path by alpha in the plane of symmetry, and banked that plane
    leans into the turn: the sideways part of the velocity in the body's own horizon is
    -sin(alpha) sin(phi), the part ahead cos(alpha) cos(theta) + sin(alpha) cos(phi) sin(theta)
    (the velocity's axes against the body's, any text on flight dynamics).
    """
    aside = math.sin(alpha) * math.sin(bank)
    ahead = math.cos(alpha) * math.cos(pitch) + math.sin(alpha) * math.cos(bank) * math.sin(pitch)
    return azimuth + math.atan2(aside, ahead)
