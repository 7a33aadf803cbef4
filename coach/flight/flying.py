"""Flying a script's legs one after the other: by the clock, or by guidance laws."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

from coach.flight import guidance, laws
from coach.flight.curve import Curve, Stretch
from coach.flight.handling import NOSE
from coach.flight.history import Span
from coach.flight.integration import Instant, fly
from coach.flight.sortie import Aircraft, Sortie
from coach.problems import Problem
from coach.script.legs import Leg

LAW_STEPS = (0.2, 0.8)
"""Shortest and longest time between two decisions of a pilot who flies by laws, s."""

CALM = 0.02
"""A hand that changes its rates by less than this share of what it can decides less often."""

MOST_S = 2400.0
"""A figure that is not over by then never will be: a glide from 12,000 ft takes 16 min."""

DEEP = 300.0
"""A leg so far below the ground is given up, m; the planner may have to look a little below it."""


@dataclass(frozen=True)
class Flyer:
    """Flies a sortie, with steps no longer than ``step`` seconds."""

    sortie: Sortie
    step: float

    def loop(
        self, craft: Aircraft, loop: int, side: int, *, on: bool, left: float = MOST_S
    ) -> tuple[Aircraft, list[Instant], list[Span]]:
        """Every leg of one loop.

        Args:
            craft: where it begins.
            loop: which it is, from 0.
            side: its direction.
            on: whether it goes on into one to the other side, through level without a stop.
            left: how many seconds it may take.

        Returns:
            Where it ends, what was recorded, its end not included, and the legs in time.

        Raises:
            Problem: a leg never ends, or all of them together take longer than they may.
        """
        start, over, legs = craft, craft.time + left, self.sortie.maneuver.legs
        instants: list[Instant] = []
        spans: list[Span] = []
        index = 0
        while index < len(legs):
            run = self._run(craft, index)
            curves = self._curves(craft, run, side, free=on and index + len(run) == len(legs))
            offset = 0.0
            for leg in run or legs[index : index + 1]:
                began = craft.time
                if curves is None:
                    craft, flown = self._by_law(craft, index, loop, side, start, over)
                else:
                    craft, flown = self._by_clock(craft, index, loop, offset, curves, over)
                    offset += craft.time - began
                instants += flown
                spans.append(Span(loop + 1, leg.name, began, craft.time))
                index += 1
        return craft, instants, spans

    def _run(self, craft: Aircraft, index: int) -> tuple[Leg, ...]:
        """The legs from here on that follow one another by the clock; none where laws fly."""
        legs = self.sortie.maneuver.legs[index:]
        if craft.on_path and legs[0].pitch is None:
            return ()
        return tuple(itertools.takewhile(lambda leg: leg.by_attitude, legs))

    def _curves(
        self, craft: Aircraft, run: tuple[Leg, ...], side: int, *, free: bool
    ) -> tuple[Curve, Curve] | None:
        """How bank and pitch attitude move over a run."""
        if not run:
            return None
        curve, level = self.sortie.curve, self.sortie.level_pitch
        banks, pitches = [(leg, leg.bank) for leg in run], [(leg, leg.pitch) for leg in run]
        return (
            curve(banks, craft.bank, craft.roll, 0.0, side, free=free),
            curve(pitches, craft.pitch, craft.pitching, level, 1, free=free),
        )

    def _by_clock(
        self, craft: Aircraft, index: int, loop: int, offset: float, curves: tuple[Curve, Curve],
        over: float,
    ) -> tuple[Aircraft, list[Instant]]:  # fmt: skip
        """A leg of a run, so many seconds after the run's beginning."""
        leg = self.sortie.maneuver.legs[index]
        assert leg.time is not None, "what makes it one that is scheduled"
        duration = self.sortie.value(leg.time)
        if craft.time + duration > over:
            raise self._endless(leg, loop, f"after {craft.time / 60.0:.0f} minutes")
        if leg.power is not None:
            craft = self.sortie.powered(craft, leg.power, None)
        craft = replace(craft, on_path=False)
        return self._stretch(craft, Stretch(index, offset, duration, *curves), loop, self.step)

    def _by_law(
        self, craft: Aircraft, index: int, loop: int, side: int, start: Aircraft, over: float
    ) -> tuple[Aircraft, list[Instant]]:
        """A leg flown step by step as its laws want; it must be ``over`` by a time."""
        sortie, leg = self.sortie, self.sortie.maneuver.legs[index]
        held = sortie.indicated(craft.state) if leg.speed is None else sortie.speed(leg.speed)

        def speed(here: Aircraft) -> float:
            return sortie.true(held, here.state.altitude)

        rolling = laws.rolling(sortie, craft, leg, side, start)
        pitching = laws.pitching(sortie, craft, leg, speed)
        ended = laws.over(sortie, craft, leg.ending, side, start)
        # About a point the bank moves all the time, and where it begins to is a matter of metres.
        step = shortest = longest = LAW_STEPS[0]
        if leg.circle is None and leg.pylon is None:
            longest = LAW_STEPS[1]
        flown: list[Instant] = []
        if leg.upright is not None or leg.speed is not None:
            craft = replace(craft, on_path=True)
        moving = leg.power is not None and sortie.as_needed(leg.power)
        if leg.power is not None and not moving:  # set once, and left alone
            craft = sortie.powered(craft, leg.power, None)
        while True:
            if craft.time > over:
                raise self._endless(leg, loop, f"after {craft.time / 60.0:.0f} minutes")
            if craft.state.altitude < sortie.conditions.ground - DEEP:
                raise self._endless(leg, loop, "at the ground")
            if leg.power is not None and moving:
                craft = sortie.powered(craft, leg.power, speed(craft))
            roll, pitch = rolling(craft, step), pitching(craft, step)
            stretch = Stretch(
                index, 0.0, step,
                Curve.eased(craft.bank, craft.roll, roll, step),
                Curve.eased(craft.pitch, craft.pitching, pitch, step),
            )  # fmt: skip
            busy = max(
                abs(roll - craft.roll) / (sortie.roll.change * step),
                abs(pitch - craft.pitching) / (NOSE.change * step),
            )
            within = step if busy < CALM else shortest
            after, done = self._stretch(craft, stretch, loop, within)
            off = ended(after)
            if off <= 0.0:
                # The step is flown again as far as the moment at which the leg is over.
                was = ended(craft)
                share = min(1.0, max(0.02, was / (was - off))) if was > off else 1.0
                stretch = replace(stretch, duration=share * step)
                after, done = self._stretch(craft, stretch, loop, within)
                return after, flown + done
            step = shortest
            if busy < CALM:
                step = min(1.5 * stretch.duration, longest, 2.0 * craft.machine.lag(after.state))
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
        self, craft: Aircraft, stretch: Stretch, loop: int, step: float
    ) -> tuple[Aircraft, list[Instant]]:
        """Fly a stretch: where the craft is at its end, and what was recorded on the way."""
        state, flown = fly(craft.machine, stretch, craft.state, craft.time, loop, step)
        wind = self.sortie.conditions.wind
        east, north = craft.position
        points = [(one.speed, one.azimuth, one.path) for one in flown]
        points.append((state.speed, state.azimuth, state.path))
        legs = [guidance.over_ground(speed, azimuth, path, wind) for speed, azimuth, path in points]
        part = 0.5 * stretch.duration / len(flown)
        for one, other in itertools.pairwise(legs):
            east, north = east + part * (one[0] + other[0]), north + part * (one[1] + other[1])
        end = stretch.start + stretch.duration
        bank, pitch = stretch.bank.at(end), stretch.pitch.at(end)
        time = craft.time + stretch.duration
        machine = craft.machine.later(stretch.duration)
        after = Aircraft(machine, state, *bank, *pitch, craft.on_path, time, (east, north))
        return after, flown


def closing(last: Instant, craft: Aircraft) -> Instant:
    """The last moment of a flight, recorded after the ``last`` instant.

    Raises:
        OverflowError: the numbers of the model ran away; sums keep what did.
    """
    speed, azimuth, altitude, path = craft.state
    if not math.isfinite(azimuth + altitude):
        raise OverflowError("the numbers of the model ran away")
    return last._replace(
        time=craft.time, speed=speed, azimuth=azimuth, altitude=altitude, path=path,
        heading=craft.heading, pitch=craft.pitch, bank=craft.bank,
    )  # fmt: skip
