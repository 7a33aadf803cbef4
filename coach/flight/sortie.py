"""A sortie: a script bound to one airplane, one day and a value for every unknown."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from coach.flight import guidance
from coach.flight.airplane import Airplane, Performance
from coach.flight.atmosphere import indicated_airspeed, power_ratio, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.motion import Course, Machine, State, pitch_of
from coach.flight.speeds import named_speed
from coach.script.maneuver import Maneuver
from coach.script.targets import Open, Sought, Target
from coach.script.ways import Change


@dataclass(frozen=True)
class Aircraft:
    """Where the airplane is in one instant, and how it is set.

    Attributes:
        machine: the airplane with its power.
        state: its motion.
        bank: its bank.
        nose: the flight path or the pitch attitude that is kept.
        by_path: whether that is the flight path.
        time: seconds since the maneuver began.
        position: over the ground, (east, north), m.
    """

    machine: Machine
    state: State
    bank: float
    nose: float
    by_path: bool
    time: float
    position: tuple[float, float]

    @property
    def held(self) -> float:
        """The flight path or the pitch attitude as it is now."""
        return self.state.path if self.by_path else self.nose

    @property
    def pitch(self) -> float:
        """The pitch attitude."""
        if not self.by_path:
            return self.nose
        level = self.machine.by_path(self.state, self.bank, 0.0)
        return pitch_of(self.state.path, level.alpha, self.bank)


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
        state = self.entry_state
        return replace(idle, power=self.power(self.maneuver.entry.power, idle, state, 0.0, None))

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
    def _on_course(self) -> bool:
        """Whether the entry heading is a course over the ground: a leg keeps to the ground."""
        return any(leg.track or leg.circle for leg in self.maneuver.legs)

    def ground_course(self, loop: Aircraft) -> float:
        """The course that a loop begins on, from which its courses count."""
        heading = loop.state.heading
        if not self._on_course:
            return heading
        velocity = guidance.over_ground(
            loop.state.speed, heading, loop.state.path, self.conditions.wind
        )
        return heading + math.remainder(math.atan2(*velocity) - heading, 2.0 * math.pi)

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

    def power(
        self, asked: Open, machine: Machine, state: State, bank: float, speed: float | None
    ) -> float:
        """Share of rated power that a script asks for; ``speed`` is the true one it is to hold."""
        share = self.value(asked)
        if math.isnan(share):  # as needed
            share = guidance.power_as_needed(machine, state, bank, speed or state.speed)
        return min(share, power_ratio(self.conditions.density(state.altitude)))

    def powered(self, craft: Aircraft, asked: Open, speed: float | None) -> Aircraft:
        """The same with the power that a leg asks for; ``speed`` is the true one it is to hold."""
        power = self.power(asked, craft.machine, craft.state, craft.bank, speed)
        return replace(craft, machine=replace(craft.machine, power=power))

    def course(self, change: Change, start: float, base: float, sign: int) -> Course:
        """How a change goes from ``start``; its end counts from ``base``, mirrored by ``sign``."""
        end = base + sign * self.value(change.to)
        first, last = (self.value(rate) for rate in change.ends)
        bulge = 0.0
        if change.halfway is not None:
            bulge = change.halfway - Course(0.0, 1.0, first, last).at(0.5)[0]
        return Course(start, end, first, last, bulge)

    def value(self, number: Open) -> float:
        """A number of the script in SI units, or what the planner found for it."""
        return self.values[number.name] if isinstance(number, Sought) else number

    def indicated(self, state: State) -> float:
        """Indicated airspeed, m/s."""
        return indicated_airspeed(state.speed, self.conditions.density(state.altitude))

    def true(self, indicated: float, altitude: float) -> float:
        """True airspeed, m/s."""
        return true_airspeed(indicated, self.conditions.density(altitude))
