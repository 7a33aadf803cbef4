"""Flying a script's legs one after the other: by the clock, or by a guidance law."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from coach.flight import guidance, laws
from coach.flight.history import Span
from coach.flight.motion import Course, Instant, Stretch, fly, pitch_of
from coach.flight.sortie import Aircraft, Sortie
from coach.problems import Problem
from coach.script.legs import Leg
from coach.script.quantities import DEGREE

NOSE_RATE = 2.5 * DEGREE
"""How fast a pilot moves the flight path where no leg says it, rad/s (a model's guess)."""

NOSE_TIME = 1.0
"""Seconds in which the path settles where it is wanted (the same)."""

LAW_STEP = 0.2
"""Longest time between two decisions of a pilot who flies by a law, s; half of `Flyer.step`."""

LONGEST_LEG_S = 1800.0
"""A leg that is not over by then never will be; a glide from 12,000 ft takes 16 min."""

DEEP = 300.0
"""A leg so far below the ground is given up, m; the planner may have to look a little below it."""


@dataclass(frozen=True)
class Flyer:
    """Flies a sortie, with steps no longer than ``step`` seconds."""

    sortie: Sortie
    step: float

    @property
    def law_step(self) -> float:
        """Time between two decisions of a law, s: coarse while searching, fine when it is kept."""
        return min(0.5 * self.step, LAW_STEP)

    def fly(self, sides: list[int]) -> tuple[list[Instant], list[Span]]:
        """Every leg of every loop.

        Raises:
            Problem: a leg never ends.
        """
        state, machine = self.sortie.entry_state, self.sortie.machine()
        pitch = pitch_of(state.path, machine.by_path(state, 0.0, 0.0).alpha, 0.0)
        craft = Aircraft(machine, state, 0.0, pitch, False, 0.0, (0.0, 0.0))
        instants: list[Instant] = []
        spans: list[Span] = []
        for loop, side in enumerate(sides):
            start = replace(craft)
            for index, leg in enumerate(self.sortie.maneuver.legs):
                began = craft.time
                if leg.scheduled:
                    flown = self._by_clock(craft, index, leg, loop, side)
                else:
                    flown = self._by_law(craft, index, leg, loop, side, start)
                instants += flown
                spans.append(Span(loop + 1, leg.name, began, craft.time))
        end = craft.state
        last = instants[-1]
        pitch = pitch_of(end.path, last.alpha, craft.bank) if craft.by_path else craft.nose
        instants.append(
            last._replace(
                time=craft.time, speed=end.speed, heading=end.heading, altitude=end.altitude,
                path=end.path, pitch=pitch, bank=craft.bank,
            )
        )  # fmt: skip
        return instants, spans

    def _by_clock(
        self, craft: Aircraft, index: int, leg: Leg, loop: int, side: int
    ) -> list[Instant]:
        """A leg whose bank and nose move by a schedule."""
        duration = self.sortie.value("time", leg.time or "")
        roll = Course(craft.bank, craft.bank)
        if leg.bank:
            roll = self.sortie.course(leg.bank, craft.bank, 0.0, side)
        if leg.path:
            craft.by_path = True
            nose = self.sortie.course(leg.path, craft.state.path, 0.0, 1)
        elif leg.pitch:
            here = craft.nose
            if craft.by_path:
                level = craft.machine.by_path(craft.state, craft.bank, 0.0)
                here = pitch_of(craft.state.path, level.alpha, craft.bank)
            craft.by_path, nose = (
                False,
                self.sortie.course(leg.pitch, here, self.sortie.level_pitch, 1),
            )
        else:
            held = craft.state.path if craft.by_path else craft.nose
            nose = Course(held, held)
        if leg.power is not None:
            craft.machine = replace(
                craft.machine,
                power=self.sortie.power(leg.power, craft.machine, craft.state, craft.bank, None),
            )
        return self._stretch(craft, Stretch(index, duration, roll, nose, craft.by_path), loop)

    def _by_law(
        self, craft: Aircraft, index: int, leg: Leg, loop: int, side: int, start: Aircraft
    ) -> list[Instant]:
        """A leg flown step by step towards what its laws want."""
        sideways = laws.sideways(self.sortie, craft, leg, side, start, self.law_step)
        wanted_altitude = laws.altitude(self.sortie, leg, craft)
        wanted_speed = None if leg.speed is None else self.sortie.speed(leg.speed)
        kept_speed = self.sortie.indicated(craft.state)
        wanted_path = None if leg.path is None else self.sortie.value("angle", leg.path.to)
        ended = laws.over(self.sortie, craft, leg, side, start)
        began, flown = craft.time, list[Instant]()
        if wanted_altitude is not None or wanted_speed is not None or wanted_path is not None:
            craft.by_path = True
        while True:
            late = craft.time - began > LONGEST_LEG_S
            if late or craft.state.altitude < self.sortie.conditions.ground - DEEP:
                again = f" of loop {loop + 1}, begun where the one before ended," if loop else ""
                minutes = f"after {LONGEST_LEG_S / 60:.0f} minutes"
                what = self.sortie.maneuver.title.lower()
                raise Problem(
                    f"{self.sortie.airplane.title} cannot fly this {what} on this day: "
                    f"'{leg.name}'{again} is not over {minutes if late else 'at the ground'}."
                )
            speed = self.sortie.true(wanted_speed or kept_speed, craft.state.altitude)
            if leg.power is not None:
                power = self.sortie.power(leg.power, craft.machine, craft.state, craft.bank, speed)
                craft.machine = replace(craft.machine, power=power)
            bank = sideways(craft)
            roll = _towards(craft.bank, bank, self.sortie.maneuver.roll_rate, self.law_step)
            path = craft.state.path
            if wanted_altitude is not None:
                target = wanted_altitude(craft)
                path = guidance.altitude_path(craft.state.altitude, target, craft.state.speed)
            elif wanted_path is not None:
                path = wanted_path
            elif wanted_speed is not None:
                path = guidance.speed_path(craft.machine, craft.state, craft.bank, speed)
            if craft.by_path:
                eased = craft.state.path + (path - craft.state.path) * self.law_step / NOSE_TIME
                nose = _towards(craft.state.path, eased, NOSE_RATE, self.law_step)
                held = Course(craft.state.path, nose)
            else:
                held = Course(craft.nose, craft.nose)
            before = replace(craft)
            stretch = Stretch(index, self.law_step, Course(craft.bank, roll), held, craft.by_path)
            done = self._stretch(craft, stretch, loop)
            left = ended(craft)
            if left <= 0.0:
                # The step is flown again as far as the moment at which the leg is over.
                was = ended(before)
                share = min(1.0, max(0.02, was / (was - left))) if was > left else 1.0
                for name, value in vars(before).items():
                    setattr(craft, name, value)
                short = Stretch(
                    index, share * self.law_step,
                    Course(before.bank, before.bank + share * (roll - before.bank)),
                    Course(held.start, held.start + share * (held.end - held.start)),
                    craft.by_path,
                )  # fmt: skip
                return flown + self._stretch(craft, short, loop)
            flown += done

    def _stretch(self, craft: Aircraft, stretch: Stretch, loop: int) -> list[Instant]:
        """Fly a stretch and move the craft to its end."""
        before = craft.state
        craft.state, flown = fly(craft.machine, stretch, before, craft.time, loop, self.step)
        craft.time += stretch.duration
        craft.bank, craft.nose = stretch.bank.end, stretch.nose.end
        wind = self.sortie.conditions.wind
        east, north = craft.position
        points = [*[(one.speed, one.heading, one.path) for one in flown],
                  (craft.state.speed, craft.state.heading, craft.state.path)]  # fmt: skip
        legs = [guidance.over_ground(speed, heading, path, wind) for speed, heading, path in points]
        part = 0.5 * stretch.duration / len(flown)
        for one, other in itertools.pairwise(legs):
            east, north = east + part * (one[0] + other[0]), north + part * (one[1] + other[1])
        craft.position = (east, north)
        return flown


def _towards(now: float, wanted: float, rate: float, step: float) -> float:
    """A value moved towards another one, no faster than a rate."""
    return now + max(-rate * step, min(rate * step, wanted - now))
