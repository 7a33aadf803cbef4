"""A sortie: a script bound to one airplane, one day and a value for every unknown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from coach.flight import guidance
from coach.flight.airplane import Airplane
from coach.flight.atmosphere import indicated_airspeed, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.curve import Curve, Knot, steady
from coach.flight.handling import Hand, roller
from coach.flight.motion import Forces, Machine, State, heading, pitch_of
from coach.flight.performance import Performance
from coach.flight.speeds import named_speed
from coach.script.legs import Leg
from coach.script.maneuver import Maneuver
from coach.script.targets import Open, Sought, Target
from coach.script.ways import Change


@dataclass(frozen=True)
class Aircraft:
    """Where the airplane is in one instant, and how it is set.

    Attributes:
        machine: the airplane with its throttle.
        state: its motion.
        bank: its bank.
        roll: how fast the bank changes.
        pitch: its pitch attitude.
        pitching: how fast that changes.
        on_path: whether what stays as it is, where a leg says nothing of the nose, is the flight
            path and not the attitude.
        time: seconds since the maneuver began.
        position: over the ground, (east, north), m.
    """

    machine: Machine
    state: State
    bank: float
    roll: float
    pitch: float
    pitching: float
    on_path: bool
    time: float
    position: tuple[float, float]

    @cached_property
    def forces(self) -> Forces:
        """What acts on it."""
        return self.machine.by_attitude(self.state, self.bank, self.pitch)

    @property
    def heading(self) -> float:
        """Where the nose points."""
        return heading(self.state.azimuth, self.forces.alpha, self.bank, self.pitch)


@dataclass(frozen=True)
class Sortie:
    """What is flown, by what, on which day, and what the planner found; all it says is in SI."""

    maneuver: Maneuver
    airplane: Airplane
    performance: Performance
    conditions: Conditions
    values: dict[str, float]

    @cached_property
    def machine(self) -> Machine:
        """The airplane with its entry power set."""
        idle = Machine(self.performance, self.conditions.mass, 0.0, self.conditions.density)
        asked, state = self.maneuver.entry.power, self.entry_state
        return replace(idle, throttle=self.throttle(asked, idle, state, 0.0, None))

    @cached_property
    def entry_state(self) -> State:
        """The first moment; the heading allows for the wind where a course is to be kept."""
        day, path = self.conditions, self.maneuver.entry.path
        speed = true_airspeed(day.entry_speed, day.density(day.altitude))
        crab = 0.0
        if self._on_course:
            crab = guidance.crab_angle(day.heading, speed * math.cos(path), day.wind)
        return State(speed, day.heading + crab, day.altitude, path)

    @property
    def entry(self) -> Aircraft:
        """The airplane at the first moment."""
        machine, state = self.machine, self.entry_state
        pitch = pitch_of(state.path, machine.by_path(state, 0.0, 0.0).alpha, 0.0)
        return Aircraft(machine, state, 0.0, 0.0, pitch, 0.0, True, 0.0, (0.0, 0.0))

    @property
    def _on_course(self) -> bool:
        """Whether the entry heading is a course over the ground: a leg keeps to the ground."""
        return any(leg.track or leg.circle for leg in self.maneuver.legs)

    def ground_course(self, loop: Aircraft) -> float:
        """The course that a loop begins on, from which its courses count."""
        azimuth = loop.state.azimuth
        if not self._on_course:
            return azimuth
        velocity = guidance.over_ground(
            loop.state.speed, azimuth, loop.state.path, self.conditions.wind
        )
        return azimuth + math.remainder(math.atan2(*velocity) - azimuth, 2.0 * math.pi)

    @cached_property
    def level_pitch(self) -> float:
        """Pitch attitude of level flight at entry."""
        state = self.entry_state
        return self.machine.level(state.speed, state.altitude).alpha

    def speed(self, target: Target) -> float:
        """An indicated airspeed of the script, m/s."""
        return named_speed(
            target, self.airplane, self.performance, self.conditions.mass,
            self.conditions.entry_speed,
        )  # fmt: skip

    def as_needed(self, asked: Open) -> bool:
        """Whether a power is what holds a speed, and so moves all the time."""
        return math.isnan(self.value(asked))

    def throttle(
        self, asked: Open, machine: Machine, state: State, bank: float, speed: float | None
    ) -> float:
        """The throttle that gives at this moment the share of rated power that a script asks for.

        All of it is full throttle, whatever that gives; ``speed`` is the true one to hold.
        """
        if self.as_needed(asked):
            return guidance.throttle_as_needed(machine, state, bank, speed or state.speed)
        share, air = self.value(asked), self.conditions.density(state.altitude)
        if share >= 1.0:
            return 1.0
        return self.performance.propeller.throttle_for_power(share, state.speed, air)

    def powered(self, craft: Aircraft, asked: Open, speed: float | None) -> Aircraft:
        """The same with the power that a leg asks for; ``speed`` is the true one it is to hold."""
        throttle = self.throttle(asked, craft.machine, craft.state, craft.bank, speed)
        return replace(craft, machine=replace(craft.machine, lever=throttle))

    @cached_property
    def roll(self) -> Hand:
        """The hand that rolls."""
        return roller(self.maneuver.roll_rate)

    def banking(self, craft: Aircraft, leg: Leg, side: int) -> Curve:
        """How a leg's bank changes by the clock."""
        return self.curve([(leg, leg.bank)], craft.bank, craft.roll, 0.0, side)

    def path(self, craft: Aircraft, leg: Leg) -> Curve:
        """How a leg's flight path changes by the clock."""
        return self.curve([(leg, leg.path)], craft.state.path, craft.forces.path_rate, 0.0, 1)

    def curve(
        self, changes: Sequence[tuple[Leg, Change | None]], start: float, rate: float, base: float,
        sign: int, *, free: bool = False,
    ) -> Curve:  # fmt: skip
        """How something moves over legs that follow one another by the clock.

        Args:
            changes: the legs, and how it changes in each; None where it stays as it is.
            start: where it is.
            rate: how fast it moves.
            base: from where the values of the changes count.
            sign: mirrors them.
            free: see `Curve.through`.
        """
        knots, time = [Knot(0.0, start, rate)], 0.0
        for leg, change in changes:
            assert leg.time is not None, "what makes it one that is scheduled"
            began, value, time = time, knots[-1].value, time + self.value(leg.time)
            if change is not None:
                value = base + sign * self.value(change.to)
            if change is not None and change.steady:
                steady(knots, time, value)
                continue
            if change is not None and change.halfway is not None:
                half = base + sign * self.value(change.halfway)
                knots.append(Knot(0.5 * (began + time), half))
            knots.append(Knot(time, value))
        return Curve.through(knots, free=free)

    def value(self, number: Open) -> float:
        """A number of the script in SI units, or what the planner found for it."""
        return self.values[number.name] if isinstance(number, Sought) else number

    def indicated(self, state: State) -> float:
        """Indicated airspeed, m/s."""
        return indicated_airspeed(state.speed, self.conditions.density(state.altitude))

    def true(self, indicated: float, altitude: float) -> float:
        """True airspeed, m/s."""
        return true_airspeed(indicated, self.conditions.density(altitude))
