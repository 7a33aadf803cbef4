"""A sortie: a script bound to one airplane, one day and a value for every unknown."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from coach.flight import guidance
from coach.flight.airplane import Airplane, Performance
from coach.flight.atmosphere import indicated_airspeed, power_ratio, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.motion import Course, Machine, State
from coach.flight.speeds import named_speed
from coach.script.legs import MANNERS, Change
from coach.script.maneuver import Maneuver
from coach.script.written import number


@dataclass
class Aircraft:
    """Where the airplane is, between two legs."""

    machine: Machine
    state: State
    bank: float
    nose: float
    by_path: bool
    time: float
    position: tuple[float, float]


@dataclass(frozen=True)
class Sortie:
    """What is flown, by what, on which day, and what the planner found; all it says is in SI."""

    maneuver: Maneuver
    airplane: Airplane
    performance: Performance
    conditions: Conditions
    values: dict[str, float]

    def machine(self) -> Machine:
        """The airplane with its entry power set."""
        idle = Machine(self.performance, self.conditions.mass, 0.0, self.conditions.density)
        state = self.entry_state
        return replace(idle, power=self.power(self.maneuver.entry.power, idle, state, 0.0, None))

    @property
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

    @property
    def level_pitch(self) -> float:
        """Pitch attitude of level flight at entry."""
        state = self.entry_state
        return self.machine().level(state.speed, state.altitude).alpha

    def speed(self, written: str) -> float:
        """An indicated airspeed in a script's words, m/s."""
        return named_speed(
            written, self.airplane, self.performance, self.conditions.mass,
            self.conditions.entry_speed,
        )  # fmt: skip

    def power(
        self, written: str, machine: Machine, state: State, bank: float, speed: float | None
    ) -> float:
        """Share of rated power that a script asks for; ``speed`` is the true one it is to hold."""
        share = self.value("share", written)
        if math.isnan(share):
            share = guidance.power_as_needed(machine, state, bank, speed or state.speed)
        return min(share, power_ratio(self.conditions.density(state.altitude)))

    def course(self, change: Change, start: float, base: float, sign: int) -> Course:
        """How a change goes from ``start``; its end counts from ``base``, mirrored by ``sign``."""
        end = base + sign * self.value("angle", change.to)
        first, last = MANNERS[change.how]
        if change.rates is not None:
            first, last = (self.value("number", rate) for rate in change.rates)
        bulge = 0.0
        if change.halfway is not None:
            bulge = change.halfway - Course(0.0, 1.0, first, last).at(0.5)[0]
        return Course(start, end, first, last, bulge)

    def value(self, kind: str, written: str) -> float:
        """A written value in SI units, or what the planner found for it."""
        return self.values[written] if written in self.values else number(kind, written)

    def indicated(self, state: State) -> float:
        """Indicated airspeed, m/s."""
        return indicated_airspeed(state.speed, self.conditions.density(state.altitude))

    def true(self, indicated: float, altitude: float) -> float:
        """True airspeed, m/s."""
        return true_airspeed(indicated, self.conditions.density(altitude))
