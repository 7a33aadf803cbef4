"""The motion over a stretch: integrated step by step, and recorded."""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.flight.controls import rudder
from coach.flight.curve import Stretch
from coach.flight.motion import Forces, Machine, State, heading


class Instant(NamedTuple):
    """One recorded instant of a flight, in SI units and radians; loop and leg count from 0."""

    time: float
    loop: int
    leg: int
    speed: float
    azimuth: float
    altitude: float
    path: float
    heading: float
    pitch: float
    bank: float
    alpha: float
    lift_coefficient: float
    load_factor: float
    turn_rate: float
    rudder: float
    lever: float
    power: float
    turns: float


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
    instants: list[Instant] = []

    def hand(now: float) -> tuple[float, float, float]:
        bank, roll = stretch.bank.at(now)
        return bank, stretch.pitch.at(now)[0], roll

    here, (bank, pitch, roll) = start, hand(stretch.start)
    for index in range(steps):
        now = stretch.start + index * dt
        first = machine.by_attitude(here, bank, pitch)
        asked = rudder(machine.performance, first, roll)
        points = heading(here.azimuth, first.alpha, bank, pitch)
        instants.append(
            Instant(
                time + index * dt, loop, stretch.leg, *here, points, pitch, bank, first.alpha,
                first.lift_coefficient, first.load_factor, first.turn_rate, asked,
                machine.throttle if machine.lever is None else machine.lever, first.power,
                first.turns,
            )
        )  # fmt: skip
        a = _rates(first, here)
        bank, pitch, _ = hand(now + 0.5 * dt)
        machine = machine.later(0.5 * dt)
        there = _moved(here, a, 0.5 * dt)
        b = _rates(machine.by_attitude(there, bank, pitch), there)
        there = _moved(here, b, 0.5 * dt)
        c = _rates(machine.by_attitude(there, bank, pitch), there)
        bank, pitch, roll = hand(now + dt)
        machine = machine.later(0.5 * dt)
        there = _moved(here, c, dt)
        d = _rates(machine.by_attitude(there, bank, pitch), there)
        mean = (
            (a[0] + 2.0 * (b[0] + c[0]) + d[0]) / 6.0,
            (a[1] + 2.0 * (b[1] + c[1]) + d[1]) / 6.0,
            (a[2] + 2.0 * (b[2] + c[2]) + d[2]) / 6.0,
            (a[3] + 2.0 * (b[3] + c[3]) + d[3]) / 6.0,
        )
        here = _moved(here, mean, dt)
    return here, instants


def _moved(state: State, rates: tuple[float, float, float, float], dt: float) -> State:
    """A state so much later, kept where there are numbers for it."""
    speed, azimuth, altitude, path = state
    return State(
        max(1.0, speed + dt * rates[0]),
        azimuth + dt * rates[1],
        altitude + dt * rates[2],
        max(-1.4, min(1.4, path + dt * rates[3])),
    )


def _rates(forces: Forces, state: State) -> tuple[float, float, float, float]:
    climb = state.speed * math.sin(state.path)
    return forces.acceleration, forces.turn_rate, climb, forces.path_rate
