"""Flying a script's legs one after the other: by the clock, or by a guidance law."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

from coach.flight import guidance, laws
from coach.flight.history import Span
from coach.flight.motion import Course, Instant, Stretch, fly, pitch_of
from coach.flight.sortie import Aircraft, Sortie
from coach.problems import Problem
from coach.script.legs import Leg
from coach.script.quantities import DEGREE
from coach.script.ways import Path, Pitch

NOSE_RATE = 2.5 * DEGREE
"""How fast a pilot moves the flight path where no leg says it, rad/s (a model's guess)."""

NOSE_TIME = 1.0
"""Seconds in which the path settles where it is wanted (the same)."""

LAW_STEP = 0.2
"""Longest time between two decisions of a pilot who flies by a law, s; half of `Flyer.step`."""

MOST_STEPS = 12_000
"""A figure that is not over by then never will be: it is 20 min as it is kept where a law flies it,
and a glide from 12,000 ft takes 16."""

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
            Problem: a leg never ends, or all of them together take more than `MOST_STEPS`; of a
                figure that is flown several times, each time.
        """
        state, machine = self.sortie.entry_state, self.sortie.machine
        pitch = pitch_of(state.path, machine.by_path(state, 0.0, 0.0).alpha, 0.0)
        craft = Aircraft(machine, state, 0.0, pitch, False, 0.0, (0.0, 0.0))
        instants: list[Instant] = []
        spans: list[Span] = []
        for loop, side in enumerate(sides):
            start = craft
            if loop % len(self.sortie.maneuver.sides) == 0:
                most = len(instants) + MOST_STEPS
            for index, leg in enumerate(self.sortie.maneuver.legs):
                began = craft.time
                left = most - len(instants)
                if leg.scheduled:
                    craft, flown = self._by_clock(craft, index, leg, loop, side, left)
                else:
                    craft, flown = self._by_law(craft, index, leg, loop, side, start, left)
                instants += flown
                spans.append(Span(loop + 1, leg.name, began, craft.time))
        end = craft.state
        if not math.isfinite(end.heading + end.altitude):  # sums: what ran away stays in them
            raise OverflowError("the numbers of the model ran away")
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
        self, craft: Aircraft, index: int, leg: Leg, loop: int, side: int, left: int
    ) -> tuple[Aircraft, list[Instant]]:
        """A leg whose bank and nose move by a schedule; ``left`` is how many steps it may take."""
        sortie = self.sortie
        roll = Course(craft.bank, craft.bank)
        if leg.bank is not None:
            roll = sortie.course(leg.bank, craft.bank, 0.0, side)
        match leg.upright:
            case Path(change):
                by_path, nose = True, sortie.course(change, craft.state.path, 0.0, 1)
            case Pitch(change):
                by_path, nose = False, sortie.course(change, craft.pitch, sortie.level_pitch, 1)
            case _:
                by_path, nose = craft.by_path, Course(craft.held, craft.held)
        if leg.power is not None:
            craft = sortie.powered(craft, leg.power, None)
        assert leg.time is not None, "what makes it one that is scheduled"
        stretch = Stretch(index, sortie.value(leg.time), roll, nose, by_path)
        if stretch.duration > left * self.step:
            raise self._endless(leg, loop, f"after {craft.time / 60.0:.0f} minutes")
        return self._stretch(craft, stretch, loop)

    def _by_law(
        self, craft: Aircraft, index: int, leg: Leg, loop: int, side: int, start: Aircraft,
        left: int,
    ) -> tuple[Aircraft, list[Instant]]:  # fmt: skip
        """A leg flown step by step towards what its laws want, in as many as are ``left``."""
        sortie, step = self.sortie, self.law_step
        held = sortie.indicated(craft.state) if leg.speed is None else sortie.speed(leg.speed)

        def speed(here: Aircraft) -> float:
            return sortie.true(held, here.state.altitude)

        sideways = laws.sideways(sortie, craft, leg.sideways, side, start, step)
        nose = laws.nose(sortie, craft, leg, speed)
        ended = laws.over(sortie, craft, leg.ending, side, start)
        flown: list[Instant] = []
        if nose is not None:
            craft = replace(craft, by_path=True)
        while True:
            if len(flown) >= left:
                raise self._endless(leg, loop, f"after {craft.time / 60.0:.0f} minutes")
            if craft.state.altitude < sortie.conditions.ground - DEEP:
                raise self._endless(leg, loop, "at the ground")
            if leg.power is not None:
                craft = sortie.powered(craft, leg.power, speed(craft))
            roll = Course(
                craft.bank, _towards(craft.bank, sideways(craft), sortie.maneuver.roll_rate, step)
            )
            course = Course(craft.nose, craft.nose)
            if craft.by_path:
                path = craft.state.path
                eased = path + ((nose(craft) if nose else path) - path) * step / NOSE_TIME
                course = Course(path, _towards(path, eased, NOSE_RATE, step))
            stretch = Stretch(index, step, roll, course, craft.by_path)
            after, done = self._stretch(craft, stretch, loop)
            off = ended(after)
            if off <= 0.0:
                # The step is flown again as far as the moment at which the leg is over.
                was = ended(craft)
                share = min(1.0, max(0.02, was / (was - off))) if was > off else 1.0
                after, done = self._stretch(craft, stretch.part(share), loop)
                return after, flown + done
            craft = after
            flown += done

    def _endless(self, leg: Leg, loop: int, when: str) -> Problem:
        """Why a leg that does not come to its end is given up."""
        again = f" of loop {loop + 1}, begun where the one before ended," if loop else ""
        return Problem(
            f"{self.sortie.airplane.title} cannot fly this {self.sortie.maneuver.title.lower()} on "
            f"this day: '{leg.name}'{again} is not over {when}."
        )

    def _stretch(
        self, craft: Aircraft, stretch: Stretch, loop: int
    ) -> tuple[Aircraft, list[Instant]]:
        """Fly a stretch: where the craft is at its end, and what was recorded on the way."""
        end, flown = fly(craft.machine, stretch, craft.state, craft.time, loop, self.step)
        wind = self.sortie.conditions.wind
        east, north = craft.position
        points = [(one.speed, one.heading, one.path) for one in flown]
        points.append((end.speed, end.heading, end.path))
        legs = [guidance.over_ground(speed, heading, path, wind) for speed, heading, path in points]
        part = 0.5 * stretch.duration / len(flown)
        for one, other in itertools.pairwise(legs):
            east, north = east + part * (one[0] + other[0]), north + part * (one[1] + other[1])
        after = Aircraft(
            craft.machine, end, stretch.bank.end, stretch.nose.end, stretch.by_path,
            craft.time + stretch.duration, (east, north),
        )  # fmt: skip
        return after, flown


def _towards(now: float, wanted: float, rate: float, step: float) -> float:
    """A value moved towards another one, no faster than a rate."""
    return now + max(-rate * step, min(rate * step, wanted - now))
