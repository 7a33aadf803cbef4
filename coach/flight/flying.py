"""Flying a script's legs one after the other: by the clock, or by a guidance law."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from coach.flight import guidance
from coach.flight.airplane import Airplane, Performance
from coach.flight.atmosphere import indicated_airspeed, power_ratio, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.history import Span
from coach.flight.motion import Course, Instant, Machine, State, Stretch, fly, pitch_of
from coach.flight.speeds import named_speed
from coach.problems import Problem
from coach.script.legs import MANNERS, Change, Leg, Until
from coach.script.maneuver import Maneuver, number
from coach.script.quantities import DEGREE, STANDARD_GRAVITY
from coach.script.targets import parse_target

NOSE_RATE = 2.5 * DEGREE
"""How fast a pilot moves the flight path where no leg says it, rad/s (a model's guess)."""

NOSE_TIME = 1.0
"""Seconds in which the path settles where it is wanted (the same)."""

LEVEL = 0.3 * DEGREE
"""A turn is over when its bank is less."""

CATCH_UP = 4.0 * DEGREE
"""Bank beyond a circle's steepest that a pilot uses to get back to it."""

LAW_STEP = 0.2
"""Longest time between two decisions of a pilot who flies by a law, s; half of `Flyer.step`."""

LONGEST_LEG_S = 1800.0
"""A leg that is not over by then never will be; a glide from 12,000 ft takes 16 min."""

DEEP = 300.0
"""A leg so far below the ground is given up, m; the planner may have to look a little below it."""


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
class Flyer:
    """A script bound to one airplane, one day and a value for every unknown."""

    maneuver: Maneuver
    airplane: Airplane
    performance: Performance
    conditions: Conditions
    values: dict[str, float]
    step: float

    @property
    def law_step(self) -> float:
        """Time between two decisions of a law, s: coarse while searching, fine when it is kept."""
        return min(0.5 * self.step, LAW_STEP)

    def machine(self) -> Machine:
        """The airplane with its entry power set."""
        idle = Machine(self.performance, self.conditions.mass, 0.0, self.conditions.density)
        state = self.entry_state
        return replace(idle, power=self._power(self.maneuver.entry.power, idle, state, 0.0, None))

    @property
    def entry_state(self) -> State:
        """The first moment."""
        day = self.conditions
        speed = true_airspeed(day.entry_speed, day.density(day.altitude))
        return State(speed, day.heading, day.altitude, self.maneuver.entry.path)

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

    def fly(self, sides: list[int]) -> tuple[list[Instant], list[Span]]:
        """Every leg of every loop.

        Raises:
            Problem: a leg never ends.
        """
        state, machine = self.entry_state, self.machine()
        pitch = pitch_of(state.path, machine.by_path(state, 0.0, 0.0).alpha, 0.0)
        craft = Aircraft(machine, state, 0.0, pitch, False, 0.0, (0.0, 0.0))
        instants: list[Instant] = []
        spans: list[Span] = []
        for loop, side in enumerate(sides):
            start = replace(craft)
            for index, leg in enumerate(self.maneuver.legs):
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
        duration = self._value("time", leg.time or "")
        roll = Course(craft.bank, craft.bank)
        if leg.bank:
            roll = self._course(leg.bank, craft.bank, 0.0, side)
        if leg.path:
            craft.by_path = True
            nose = self._course(leg.path, craft.state.path, 0.0, 1)
        elif leg.pitch:
            here = craft.nose
            if craft.by_path:
                here = pitch_of(craft.state.path, self._alpha(craft), craft.bank)
            craft.by_path, nose = False, self._course(leg.pitch, here, self.level_pitch, 1)
        else:
            held = craft.state.path if craft.by_path else craft.nose
            nose = Course(held, held)
        if leg.power is not None:
            craft.machine = replace(
                craft.machine,
                power=self._power(leg.power, craft.machine, craft.state, craft.bank, None),
            )
        return self._stretch(craft, Stretch(index, duration, roll, nose, craft.by_path), loop)

    def _by_law(
        self, craft: Aircraft, index: int, leg: Leg, loop: int, side: int, start: Aircraft
    ) -> list[Instant]:
        """A leg flown step by step towards what its laws want."""
        sideways = self._sideways(craft, leg, side, start.state.heading)
        wanted_altitude = self._altitude(leg, craft)
        wanted_speed = None if leg.speed is None else self.speed(leg.speed)
        kept_speed = self._indicated(craft.state)
        wanted_path = None if leg.path is None else self._value("angle", leg.path.to)
        ended = self._end(craft, leg, side, start)
        began, flown = craft.time, list[Instant]()
        if wanted_altitude is not None or wanted_speed is not None or wanted_path is not None:
            craft.by_path = True
        while True:
            late = craft.time - began > LONGEST_LEG_S
            if late or craft.state.altitude < self.conditions.ground - DEEP:
                again = f" of loop {loop + 1}, begun where the one before ended," if loop else ""
                minutes = f"after {LONGEST_LEG_S / 60:.0f} minutes"
                raise Problem(
                    f"{self.airplane.title} cannot fly this {self.maneuver.title.lower()} on this "
                    f"day: '{leg.name}'{again} is not over {minutes if late else 'at the ground'}."
                )
            speed = self._true(wanted_speed or kept_speed, craft.state.altitude)
            if leg.power is not None:
                power = self._power(leg.power, craft.machine, craft.state, craft.bank, speed)
                craft.machine = replace(craft.machine, power=power)
            bank = sideways(craft)
            roll = _towards(craft.bank, bank, self.maneuver.roll_rate, self.law_step)
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
        wind = self.conditions.wind
        east, north = craft.position
        points = [*[(one.speed, one.heading, one.path) for one in flown],
                  (craft.state.speed, craft.state.heading, craft.state.path)]  # fmt: skip
        legs = [guidance.over_ground(speed, heading, path, wind) for speed, heading, path in points]
        part = 0.5 * stretch.duration / len(flown)
        for one, other in itertools.pairwise(legs):
            east, north = east + part * (one[0] + other[0]), north + part * (one[1] + other[1])
        craft.position = (east, north)
        return flown

    def _sideways(
        self, craft: Aircraft, leg: Leg, side: int, loop_heading: float
    ) -> Callable[[Aircraft], float]:
        """The law that says the bank."""
        wind, start, origin = self.conditions.wind, craft.state.heading, craft.position
        if leg.turn is not None:
            law, fixed = leg.turn, self._value("angle", leg.turn.bank or "0 deg")

            def steepest(here: Aircraft) -> float:
                if law.rate is None:
                    return fixed
                return guidance.bank_for_rate(here.state.speed, law.rate)

            if leg.turn.through is None and leg.turn.to is None:
                return lambda here: side * steepest(here)
            goal = self._turn_goal(craft, leg, loop_heading, side)
            return self._rolling_out(goal, start, steepest)
        if leg.track is not None:
            course, most = loop_heading + side * leg.track.course, leg.track.most

            def tracking(here: Aircraft) -> float:
                east, north = here.position[0] - origin[0], here.position[1] - origin[1]
                offset = east * math.cos(course) - north * math.sin(course)
                return guidance.track_bank(
                    offset, course, here.state.heading, here.state.speed, wind, most
                )

            return tracking
        around = leg.circle or leg.pylon
        if around is not None:
            about = self._about_a_point(craft, leg, side, loop_heading)
            if around.to is None:
                return about
            goal = self._turn_goal(craft, leg, loop_heading, side)
            return self._rolling_out(goal, start, lambda here: side * about(here))
        # What a turn has left of its bank is taken out.
        kept = 0.0 if abs(craft.bank) < 2.0 * LEVEL else craft.bank
        return lambda here: kept

    def _rolling_out(
        self, goal: float, start: float, steepest: Callable[[Aircraft], float]
    ) -> Callable[[Aircraft], float]:
        """The law of a turn that ends with the wings level on a heading."""
        way = 1 if goal >= 0.0 else -1

        def turning(here: Aircraft) -> float:
            left = way * (goal - (here.state.heading - start))
            return way * guidance.turn_bank(
                left, here.state.speed, way * here.bank, steepest(here),
                self.maneuver.roll_rate, self.law_step,
            )  # fmt: skip

        return turning

    def _about_a_point(
        self, craft: Aircraft, leg: Leg, side: int, loop_heading: float
    ) -> Callable[[Aircraft], float]:
        """A circle of constant radius, or a pylon on the wing tip."""
        wind = self.conditions.wind
        speed, heading = craft.state.speed, craft.state.heading
        velocity = guidance.over_ground(speed, heading, craft.state.path, wind)
        fast, roll_rate = math.hypot(*velocity), self.maneuver.roll_rate
        way = math.atan2(*velocity)
        if leg.pylon is not None:
            away, most = fast**2 / (STANDARD_GRAVITY * math.tan(leg.pylon.steepest)), 0.0
            abeam, into = heading, leg.pylon.steepest
        else:
            assert leg.circle is not None
            fastest = speed + math.hypot(*wind)
            away = guidance.turn_radius(fastest, leg.circle.steepest)
            most = leg.circle.steepest + CATCH_UP
            abeam, into = way, math.atan(fast**2 / (away * STANDARD_GRAVITY))
        roll_in = ahead = guidance.roll_in_way(fast, into - side * craft.bank, roll_rate)
        if leg.circle is not None and leg.circle.to is not None:
            # Rolling out may take a longer way: then the circle begins so much later that a half
            # circle has its wings level again on the line where it began.
            course = craft.state.heading + self._turn_goal(craft, leg, loop_heading, side)
            out = math.hypot(*guidance.over_ground(speed, course, 0.0, wind))
            bank = math.atan(out**2 / (away * STANDARD_GRAVITY))
            ahead = max(roll_in, guidance.roll_in_way(out, bank, roll_rate))
        abeam += side * math.pi / 2.0
        centre = (
            craft.position[0] + away * math.sin(abeam) + ahead * math.sin(way),
            craft.position[1] + away * math.cos(abeam) + ahead * math.cos(way),
        )

        def about(here: Aircraft) -> float:
            east, north = centre[0] - here.position[0], centre[1] - here.position[1]
            straight = abs(here.state.heading - heading) < 3.0 * DEGREE
            if straight and east * math.sin(way) + north * math.cos(way) > roll_in:
                return 0.0
            velocity = guidance.over_ground(*here.state[:2], here.state.path, wind)
            if leg.pylon is not None:
                return guidance.pylon_bank(
                    here.position, velocity, here.state.heading, here.state.speed, centre, side
                )
            return guidance.circle_bank(
                here.position, velocity, here.state.heading, centre, away, side, most
            )

        return about

    def _altitude(self, leg: Leg, craft: Aircraft) -> Callable[[Aircraft], float] | None:
        """The law that says the altitude to hold, or None."""
        if leg.altitude is None:
            return None
        target = parse_target("length", leg.altitude)
        day = self.conditions
        if target.base == "pivotal":

            def pivotal(here: Aircraft) -> float:
                velocity = guidance.over_ground(*here.state[:2], here.state.path, day.wind)
                return day.ground + guidance.pivotal_altitude(math.hypot(*velocity))

            last = (craft.time, pivotal(craft), 0.0)

            def leading(here: Aircraft) -> float:
                nonlocal last
                # It moves with the groundspeed: aim where it will be, not to trail behind it.
                now, (then, was, rate) = pivotal(here), last
                if here.time > then:
                    # A pilot sees a trend over a second or so, not from one moment to the next.
                    rate += 0.07 * ((now - was) / (here.time - then) - rate)
                last = (here.time, now, rate)
                return now + guidance.OFFSET_TIME * rate

            return leading
        base = {"entry": day.altitude, "start": craft.state.altitude, "ground": day.ground}
        level = base.get(target.base or "", 0.0) + target.offset
        return lambda here: level

    def _end(
        self, craft: Aircraft, leg: Leg, side: int, loop: Aircraft
    ) -> Callable[[Aircraft], float]:
        """How far a leg is from being over; zero or less when it is."""
        start, began, loop_heading = craft.state.heading, craft.time, loop.state.heading
        if leg.time is not None:
            over = began + self._value("time", leg.time)
            return lambda here: over - here.time
        if leg.until is None:
            goal = self._turn_goal(craft, leg, loop_heading, side)
            way = 1 if goal >= 0.0 else -1

            def turned_out(here: Aircraft) -> float:
                left = way * (goal - (here.state.heading - start))
                level = way * here.bank - LEVEL
                # Over when the wings come level again, which is near the goal and not at the start.
                return level if left < 0.25 * abs(goal) + 0.05 else max(level, 1e-3)

            return turned_out
        return self._until(leg.until, craft, side, loop)

    def _until(
        self, until: Until, craft: Aircraft, side: int, loop: Aircraft
    ) -> Callable[[Aircraft], float]:
        """How far from what an ``until`` names, in its own unit, towards it from here."""
        day = self.conditions
        if until.turned is not None:
            wanted = self._value("turned", until.turned)
            return _approach(
                craft, lambda here: side * (here.state.heading - loop.state.heading), wanted
            )
        if until.speed is not None:
            return _approach(
                craft, lambda here: self._indicated(here.state), self.speed(until.speed)
            )
        if until.altitude is not None:
            level = self._altitude(Leg(name="-", altitude=until.altitude), craft)
            assert level is not None
            return _approach(craft, lambda here: here.state.altitude, level(craft))
        if until.height is not None:
            wanted = day.ground + self._value("length", until.height)
            return _approach(craft, lambda here: here.state.altitude, wanted)
        if until.distance is not None:
            wanted = self._value("length", until.distance)
            origin = craft.position
            return lambda here: wanted - math.dist(here.position, origin)
        if until.ahead is not None:
            wanted = self._value("length", until.ahead)
            east, north = math.sin(loop.state.heading), math.cos(loop.state.heading)
            x, y = loop.position
            velocity = guidance.over_ground(*craft.state[:2], craft.state.path, day.wind)
            way = 1.0 if velocity[0] * east + velocity[1] * north >= 0.0 else -1.0

            def beyond(here: Aircraft) -> float:
                gone = (here.position[0] - x) * east + (here.position[1] - y) * north
                return way * (wanted - gone)

            return beyond
        return lambda here: self.performance.greatest_lift - self._lift(here)

    def _turn_goal(self, craft: Aircraft, leg: Leg, loop_heading: float, side: int) -> float:
        """Heading change from the leg's start at which its turn is to end, right positive."""
        if leg.turn is not None and leg.turn.through is not None:
            return side * self._value("turned", leg.turn.through)
        law = leg.turn or leg.circle or leg.pylon
        assert law is not None
        goal = loop_heading + side * self._value("turned", law.to or "")
        if leg.circle is not None:
            goal += guidance.crab_angle(goal, craft.state.speed, self.conditions.wind)
        return goal - craft.state.heading

    def _power(
        self, written: str, machine: Machine, state: State, bank: float, speed: float | None
    ) -> float:
        share = self._value("share", written)
        if math.isnan(share):
            share = guidance.power_as_needed(machine, state, bank, speed or state.speed)
        return min(share, power_ratio(self.conditions.density(state.altitude)))

    def _course(self, change: Change, start: float, base: float, sign: int) -> Course:
        end = base + sign * self._value("angle", change.to)
        first, last = MANNERS[change.how]
        if change.rates is not None:
            first, last = (self._value("number", rate) for rate in change.rates)
        bulge = 0.0
        if change.halfway is not None:
            bulge = change.halfway - Course(0.0, 1.0, first, last).at(0.5)[0]
        return Course(start, end, first, last, bulge)

    def _value(self, kind: str, written: str) -> float:
        return self.values[written] if written in self.values else number(kind, written)

    def _indicated(self, state: State) -> float:
        return indicated_airspeed(state.speed, self.conditions.density(state.altitude))

    def _true(self, indicated: float, altitude: float) -> float:
        return true_airspeed(indicated, self.conditions.density(altitude))

    def _alpha(self, craft: Aircraft) -> float:
        return craft.machine.by_path(craft.state, craft.bank, 0.0).alpha

    def _lift(self, craft: Aircraft) -> float:
        if craft.by_path:
            return craft.machine.by_path(craft.state, craft.bank, 0.0).lift_coefficient
        return craft.machine.by_attitude(craft.state, craft.bank, craft.nose).lift_coefficient


def _towards(now: float, wanted: float, rate: float, step: float) -> float:
    """A value moved towards another one, no faster than a rate."""
    return now + max(-rate * step, min(rate * step, wanted - now))


def _approach(
    craft: Aircraft, value: Callable[[Aircraft], float], wanted: float
) -> Callable[[Aircraft], float]:
    """How far a value is from a wanted one, positive on the side where it is now."""
    sign = 1.0 if value(craft) <= wanted else -1.0
    return lambda here: sign * (wanted - value(here))
