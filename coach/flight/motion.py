"""A point mass in coordinated flight: the rates of change, and their integration over a leg.

Speeds are true, m/s; angles radians; bank and turns right positive. The state is true airspeed,
heading, altitude and flight-path angle. Wind does not enter: it moves the air the airplane is in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from coach.flight.airplane import Performance
from coach.flight.atmosphere import power_ratio
from coach.script.quantities import DEGREE, STANDARD_GRAVITY

IDLE_SHARE = 0.12
"""Share of rated power below which the propeller begins to hold back (a model's guess)."""


class State(NamedTuple):
    """Where the motion stands."""

    speed: float
    heading: float
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
    power: float


@dataclass(frozen=True)
class Course:
    """A value moving over a leg, by the polynomial with these ends and these rates at them.

    The rates are multiples of the steady rate; between 0 and 3 the cubic never turns back
    (Fritsch and Carlson, SIAM J. Numerical Analysis 17, 1980, from memory). ``bulge`` adds what
    half the leg is ahead of the cubic there, and nothing at its ends.
    """

    start: float
    end: float
    first_rate: float = 1.0
    last_rate: float = 1.0
    bulge: float = 0.0

    def at(self, share: float) -> tuple[float, float]:
        """The value and its slope at a share of the leg, 0 to 1; the slope is per whole leg."""
        span, a, b = self.end - self.start, self.first_rate, self.last_rate
        cubic, square = a + b - 2.0, 3.0 - 2.0 * a - b
        done = ((cubic * share + square) * share + a) * share
        slope = (3.0 * cubic * share + 2.0 * square) * share + a
        if self.bulge:
            left = share * (1.0 - share)
            done += 16.0 * self.bulge * left * left
            slope += 32.0 * self.bulge * left * (1.0 - 2.0 * share)
        return self.start + span * done, span * slope


@dataclass(frozen=True)
class Stretch:
    """A leg with every unknown filled in: ``nose`` is the pitch attitude, or the flight path."""

    leg: int
    duration: float
    bank: Course
    nose: Course
    by_path: bool

    def part(self, share: float) -> Stretch:
        """Its beginning; that of courses along straights."""
        bank, nose = (
            Course(one.start, one.start + share * (one.end - one.start))
            for one in (self.bank, self.nose)
        )
        return Stretch(self.leg, share * self.duration, bank, nose, self.by_path)


class _Pull(NamedTuple):
    """Air density, share of rated power, and thrust in one instant."""

    air: float
    power: float
    thrust: float


@dataclass(frozen=True)
class Machine:
    """An airplane at one weight on one day, with its power set."""

    performance: Performance
    mass: float
    power: float
    density: Callable[[float], float]

    def alpha(self, lift_coefficient: float) -> float:
        """Angle between the body axis and the airflow; zero at the cruise's lift."""
        plane = self.performance
        return (lift_coefficient - plane.cruise_lift) / plane.lift_slope

    def power_share(self, air: float) -> float:
        """Power over rated power: what is set, as far as the engine can give it in this air."""
        return max(0.0, min(self.power, power_ratio(air)))

    def thrust(self, speed: float, air: float) -> float:
        """Thrust of the propeller, N."""
        return self.performance.thrust(self.power_share(air), speed, air)

    def drag(self, lift_coefficient: float, dynamic: float, power_share: float) -> float:
        """Drag from the parabolic polar, with the windmilling propeller's below idle power, N."""
        windmilling = max(0.0, 1.0 - power_share / IDLE_SHARE)
        plane = self.performance
        return plane.drag_coefficient(lift_coefficient, windmilling) * dynamic * plane.wing_area

    def by_attitude(self, state: State, bank: float, pitch: float) -> Forces:
        """Forces when the pitch attitude is given.

        Without sideslip, sin(gamma) = cos(alpha) sin(theta) - sin(alpha) cos(phi) cos(theta)
        (the vertical part of the velocity in body axes), solved for alpha.
        """
        across, along = math.cos(bank) * math.cos(pitch), math.sin(pitch)
        tilt = math.sin(state.path) / math.hypot(across, along)
        alpha = math.acos(max(-1.0, min(1.0, tilt))) - math.atan2(across, along)
        lift = self.performance.cruise_lift + self.performance.lift_slope * alpha
        return self._forces(state, bank, alpha, lift, None, self._pull(state))

    def by_path(self, state: State, bank: float, path_rate: float) -> Forces:
        """Forces when the flight path is given.

        Solved backwards: (L + T sin(alpha)) cos(phi) = W cos(gamma) + m V gamma'.
        """
        pull = self._pull(state)
        scale = 0.5 * pull.air * state.speed**2 * self.performance.wing_area
        wanted = STANDARD_GRAVITY * math.cos(state.path) + state.speed * path_rate
        normal = self.mass * wanted / math.cos(bank)
        alpha = self.alpha(normal / scale)
        for _ in range(2):  # thrust carries little of the weight: this converges at once
            alpha = self.alpha((normal - pull.thrust * math.sin(alpha)) / scale)
        lift = (normal - pull.thrust * math.sin(alpha)) / scale
        return self._forces(state, bank, alpha, lift, path_rate, pull)

    def _pull(self, state: State) -> _Pull:
        air = self.density(state.altitude)
        power = self.power_share(air)
        return _Pull(air, power, self.performance.thrust(power, state.speed, air))

    def _forces(
        self, state: State, bank: float, alpha: float, lift: float, path_rate: float | None,
        pull: _Pull,
    ) -> Forces:  # fmt: skip
        """The equations of motion: V', psi' and gamma' from lift, drag and thrust."""
        air, power, thrust = pull
        dynamic = 0.5 * air * state.speed**2
        normal = (
            lift * dynamic * self.performance.wing_area + thrust * math.sin(alpha)
        ) / self.mass
        drag = self.drag(lift, dynamic, power)
        climb = math.cos(state.path)
        if path_rate is None:
            path_rate = (normal * math.cos(bank) - STANDARD_GRAVITY * climb) / state.speed
        return Forces(
            alpha=alpha,
            lift_coefficient=lift,
            load_factor=normal / STANDARD_GRAVITY,
            acceleration=(thrust * math.cos(alpha) - drag) / self.mass
            - STANDARD_GRAVITY * math.sin(state.path),
            turn_rate=normal * math.sin(bank) / (state.speed * climb),
            path_rate=path_rate,
            power=power,
        )

    def level(self, speed: float, altitude: float) -> Forces:
        """Straight and level flight at a true airspeed; ``alpha`` is its pitch attitude."""
        return self.by_path(State(speed, 0.0, altitude, 0.0), 0.0, 0.0)


def rudder(plane: Performance, forces: Forces, roll_rate: float) -> float:
    """Rudder asked for, as a signed index, right positive; about 1 is much. Qualitative.

    Power at a high angle of attack asks for right rudder (propeller slipstream and its blades at an
    angle); rolling asks for rudder with the roll, more at high lift (adverse yaw). How the two are
    weighed is a model's guess, chosen so that rolling left while climbing slowly nearly cancels
    (common practice, no source).
    """
    slow = (forces.lift_coefficient - plane.cruise_lift) / (plane.greatest_lift - plane.cruise_lift)
    adverse = roll_rate / (8.0 * DEGREE) * forces.lift_coefficient / plane.greatest_lift
    return 1.5 * (forces.power * slow + adverse)


class Instant(NamedTuple):
    """One recorded instant of a flight, in SI units and radians; loop and leg count from 0."""

    time: float
    loop: int
    leg: int
    speed: float
    heading: float
    altitude: float
    path: float
    pitch: float
    bank: float
    alpha: float
    lift_coefficient: float
    load_factor: float
    turn_rate: float
    rudder: float
    power: float


def fly(
    machine: Machine, stretch: Stretch, start: State, time: float, loop: int, step: float
) -> tuple[State, list[Instant]]:
    """Integrate one leg by the classical fourth-order Runge-Kutta method.

    Args:
        machine: the airplane.
        stretch: what it is asked to do.
        start: state at the leg's beginning.
        time: seconds since the maneuver began.
        loop: which loop, from 0, to be recorded.
        step: longest step, s.

    Returns:
        The state at the end, and an instant per step, the leg's first included and its last not.
    """
    steps = max(1, math.ceil(stretch.duration / step - 1e-9))
    dt = stretch.duration / steps
    speed, heading, altitude, path = start
    instants: list[Instant] = []

    def forces(share: float, at: State) -> tuple[Forces, float, float, float]:
        bank, roll = stretch.bank.at(share)
        nose, nose_rate = stretch.nose.at(share)
        if stretch.by_path:
            found = machine.by_path(at, bank, nose_rate / stretch.duration)
        else:
            found = machine.by_attitude(at, bank, nose)
        return found, bank, roll / stretch.duration, nose

    for index in range(steps):
        here = State(speed, heading, altitude, path)
        first, bank, roll_rate, nose = forces(index / steps, here)
        pitch = pitch_of(path, first.alpha, bank) if stretch.by_path else nose
        asked = rudder(machine.performance, first, roll_rate)
        instants.append(
            Instant(
                time + index * dt, loop, stretch.leg, speed, heading, altitude, path, pitch, bank,
                first.alpha, first.lift_coefficient, first.load_factor, first.turn_rate, asked,
                first.power,
            )
        )  # fmt: skip
        rates = [_rates(first, here)]
        for share, part in ((index + 0.5, 0.5), (index + 0.5, 0.5), (index + 1.0, 1.0)):
            last = rates[-1]
            there = State(
                max(1.0, speed + part * dt * last[0]),
                heading + part * dt * last[1],
                altitude + part * dt * last[2],
                path + part * dt * last[3],
            )
            rates.append(_rates(forces(share / steps, there)[0], there))
        a, b, c, d = rates
        speed = max(1.0, speed + dt / 6.0 * (a[0] + 2.0 * (b[0] + c[0]) + d[0]))
        heading += dt / 6.0 * (a[1] + 2.0 * (b[1] + c[1]) + d[1])
        altitude += dt / 6.0 * (a[2] + 2.0 * (b[2] + c[2]) + d[2])
        path += dt / 6.0 * (a[3] + 2.0 * (b[3] + c[3]) + d[3])
        path = max(-1.4, min(1.4, path))
    return State(speed, heading, altitude, path), instants


def _rates(forces: Forces, state: State) -> tuple[float, float, float, float]:
    climb = state.speed * math.sin(state.path)
    return forces.acceleration, forces.turn_rate, climb, forces.path_rate


def pitch_of(path: float, alpha: float, bank: float) -> float:
    """Pitch attitude from flight path, angle of attack and bank, without sideslip.

    The inverse of the relation in `Machine.by_attitude`.
    """
    radius = math.hypot(math.cos(alpha), math.sin(alpha) * math.cos(bank))
    turn = math.atan2(math.sin(alpha) * math.cos(bank), math.cos(alpha))
    return math.asin(max(-1.0, min(1.0, math.sin(path) / radius))) + turn
