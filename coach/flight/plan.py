"""The planner: finds a script's unknowns so that its wishes come true for this airplane and day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from coach.flight.airplane import Airplane, Performance, derive
from coach.flight.atmosphere import SEA_LEVEL_DENSITY, power_ratio, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.flight import Flight, Floats, Span, stall_speed
from coach.flight.motion import Course, Instant, Machine, State, Stretch, fly, pitch_of
from coach.problems import Problem
from coach.script.maneuver import MANNERS, WISH_KINDS, Change, Maneuver, Wish, number, split_base
from coach.script.quantities import DEGREE, FOOT, KNOT, parse

PLAN_STEP = 0.5
"""Longest time step while searching, s; over a loop it errs by less than 0.1 ft and 0.01 kt."""

FLY_STEP = 0.1
"""Longest time step of the flight that is kept, s."""

PULL = 0.3
"""Pull of an unknown to its start, small beside a wish: it decides what the wishes leave open."""

OPEN = 0.25
"""A range missed by more than this share of a tenth of its width is told (here about a degree)."""

_SHOWN = {"angle": (DEGREE, "deg"), "speed": (KNOT, "kt"), "length": (FOOT, "ft")}
_CALLED = {"turned": "heading change"}


@dataclass(frozen=True)
class _Target:
    """A wish in numbers: the range that is right, and the error that is just acceptable."""

    wish: Wish
    low: float
    high: float
    within: float

    def miss(self, value: float) -> float:
        """How far outside the range, signed, in units of what is acceptable."""
        return (value - min(max(value, self.low), self.high)) / self.within


def plan(maneuver: Maneuver, airplane: Airplane, conditions: Conditions) -> Flight:
    """The maneuver as this airplane flies it on this day.

    The unknowns are found by bounded non-linear least squares on one loop: a wish with ``is`` is
    driven to its value, one with ``between`` only into its range.

    Raises:
        Problem: a wish with ``is`` stays out of reach, or the airplane would stall; the sentence
            says which, and by how much.
    """
    search = _Search(maneuver, airplane, conditions)
    values = search.solve()
    shortfalls = search.judge(values)
    flight = search.flight(values, shortfalls)
    margin = flight.at(flight.recorded("time"))["stall_margin_kt"]
    if margin.min() <= 0.0:
        when = float(flight.recorded("time")[margin.argmin()])
        raise Problem(
            f"{maneuver.title} cannot be flown like this: {airplane.title} would stall after "
            f"{when:.0f} s; try a lower weight, a lower altitude or another entry speed."
        )
    return flight


class _Search:
    """One planning problem: the script's names bound to one airplane and day."""

    def __init__(self, maneuver: Maneuver, airplane: Airplane, conditions: Conditions) -> None:
        self.maneuver = maneuver
        self.airplane = airplane
        self.conditions = conditions
        self.performance: Performance = derive(airplane)
        self.stall = stall_speed(self.performance, conditions.mass)
        self.air = conditions.density(conditions.altitude)
        self.entry_speed = true_airspeed(conditions.entry_speed, self.air)
        self.kinds = {name: kind for name, kind, _ in maneuver.uses() if name in maneuver.unknowns}
        self.targets = [self._target(wish) for wish in maneuver.wishes]
        self.ends = {checkpoint.ends: checkpoint.name for checkpoint in maneuver.checkpoints}

    def solve(self) -> dict[str, float]:
        """Every unknown's value, in SI units."""
        unknowns = self.maneuver.unknowns
        bounds = np.array(
            [
                [number(self.kinds[name], written) for written in (one.from_, one.start, one.to)]
                for name, one in unknowns.items()
            ]
        ).reshape(-1, 3)
        for index, name in enumerate(unknowns):
            if name == self.maneuver.entry.power:  # no throttle gives more than the engine has
                most = power_ratio(self.air)
                bounds[index] = np.minimum(bounds[index], [most - 0.02, most - 0.01, most])
        low, width = bounds[:, 0], np.maximum(bounds[:, 2] - bounds[:, 0], 1e-9)
        start = (bounds[:, 1] - low) / width

        def values(shares: Floats) -> dict[str, float]:
            return dict(zip(unknowns, (low + width * shares).tolist(), strict=True))

        def misses(shares: Floats) -> Floats:
            found = self._measure(values(shares))
            wished = [t.miss(v) for t, v in zip(self.targets, found, strict=True)]
            return np.concatenate([wished, PULL * (shares - start)])

        if not unknowns:
            return {}
        inside = np.clip(start, 1e-6, 1.0 - 1e-6)
        solution = least_squares(misses, inside, bounds=(0.0, 1.0), x_scale=0.1, max_nfev=60)
        return values(solution.x)

    def judge(self, values: dict[str, float]) -> tuple[str, ...]:
        """The wishes with ``between`` that stay open, as sentences.

        Raises:
            Problem: a wish with ``is`` is missed; the worst one is named.
        """
        missed: list[tuple[float, str]] = []
        shortfalls = []
        for target, value in zip(self.targets, self._measure(values), strict=True):
            miss = target.miss(value)
            if target.wish.is_ is not None and abs(miss) > 1.0:
                missed.append((abs(miss), self._sentence(target, value)))
            elif target.wish.is_ is None and abs(miss) > OPEN:
                shortfalls.append(self._sentence(target, value))
        if missed:
            raise Problem(
                f"{self.airplane.title} cannot fly this {self.maneuver.title.lower()} on this day: "
                f"{max(missed)[1]}; try another weight, altitude or entry speed."
            )
        return tuple(shortfalls)

    def flight(self, values: dict[str, float], shortfalls: tuple[str, ...]) -> Flight:
        """All loops, finely integrated."""
        sides = self.maneuver.loop_sides(self.conditions.loops, self.conditions.first_side)
        instants, spans = self._fly(values, sides, FLY_STEP)
        machine = self._machine(values)
        return Flight(
            maneuver=self.maneuver,
            airplane=self.airplane,
            performance=self.performance,
            conditions=self.conditions,
            sides=tuple(sides),
            solved=values,
            power=machine.power_share(self.air),
            level_pitch=machine.level(self.entry_speed, self.conditions.altitude).alpha,
            spans=tuple(spans),
            instants=np.array(instants),
            shortfalls=shortfalls,
        )

    def _target(self, wish: Wish) -> _Target:
        kind = WISH_KINDS[wish.what]
        if wish.between is not None:
            low, high = (parse(kind, bound) for bound in wish.between)
            return _Target(wish, low, high, 0.1 * (high - low))
        base, rest = split_base(wish.is_ or "")
        value = parse(kind, rest) if rest else 0.0
        if base == "stall":
            value += self.stall
        elif base == "entry":
            speed, altitude = self.conditions.entry_speed, self.conditions.altitude
            value += {"speed": speed, "altitude": altitude}.get(wish.what, 0.0)
        return _Target(wish, value, value, parse(kind, wish.within))

    def _machine(self, values: dict[str, float]) -> Machine:
        power = self._value("share", self.maneuver.entry.power, values)
        return Machine(self.performance, self.conditions.mass, power, self.conditions.density)

    @staticmethod
    def _value(kind: str, written: str, values: dict[str, float]) -> float:
        return values[written] if written in values else number(kind, written)

    def _course(
        self, change: Change, values: dict[str, float], start: float, base: float, sign: int
    ) -> Course:
        end = base + sign * self._value("angle", change.to, values)
        first, last = MANNERS[change.how]
        if change.rates is not None:
            first, last = (self._value("number", rate, values) for rate in change.rates)
        bulge = 0.0
        if change.halfway is not None:
            bulge = change.halfway - Course(0.0, 1.0, first, last).at(0.5)[0]
        return Course(start, end, first, last, bulge)

    def _fly(
        self, values: dict[str, float], sides: list[int], step: float
    ) -> tuple[list[Instant], list[Span]]:
        """The legs one after the other, each from where the last one ended."""
        machine = self._machine(values)
        entry = self.conditions
        state = State(self.entry_speed, entry.heading, entry.altitude, 0.0)
        level = machine.level(state.speed, state.altitude).alpha
        bank, pitch, time, by_path = 0.0, level, 0.0, False
        instants: list[Instant] = []
        spans: list[Span] = []
        for loop, side in enumerate(sides):
            for index, leg in enumerate(self.maneuver.legs):
                duration = self._value("time", leg.time, values)
                roll, nose = Course(bank, bank), Course(pitch, pitch)
                if leg.bank:
                    roll = self._course(leg.bank, values, bank, 0.0, side)
                if leg.path:
                    by_path, nose = True, self._course(leg.path, values, state.path, 0.0, 1)
                elif leg.pitch:
                    by_path, nose = False, self._course(leg.pitch, values, pitch, level, 1)
                elif by_path:
                    nose = Course(state.path, state.path)
                stretch = Stretch(index, duration, roll, nose, by_path)
                state, flown = fly(machine, stretch, state, time, loop, step)
                instants += flown
                spans.append(Span(loop + 1, leg.name, time, time + duration))
                bank, time = roll.end, time + duration
                pitch = pitch_of(state.path, flown[-1].alpha, bank) if by_path else nose.end
        instants.append(
            instants[-1]._replace(
                time=time,
                speed=state.speed,
                heading=state.heading,
                altitude=state.altitude,
                path=state.path,
                pitch=pitch,
                bank=bank,
            )
        )
        return instants, spans

    def _measure(self, values: dict[str, float]) -> list[float]:
        """What each wish is about, as one loop to the right flown with these values has it."""
        instants, spans = self._fly(values, [1], PLAN_STEP)
        flown = np.array(instants)
        column = {name: flown[:, index] for index, name in enumerate(Instant._fields)}
        time, altitude = column["time"], column["altitude"]
        air = np.array([self.conditions.density(height) for height in altitude])
        trace: dict[str, Floats] = {
            "turned": column["heading"] - column["heading"][0],
            "pitch": column["pitch"] - column["pitch"][0],
            "speed": column["speed"] * np.sqrt(air / SEA_LEVEL_DENSITY),
            "altitude": altitude,
        }
        moments: dict[str, Callable[[], float]] = {
            "lowest speed": lambda: _peak(time, -trace["speed"]),
            "greatest altitude": lambda: _peak(time, altitude),
            "highest pitch": lambda: _peak(time, trace["pitch"]),
            "lowest pitch": lambda: _peak(time, -trace["pitch"]),
        }
        ends = {self.ends[span.leg]: span.end_s for span in spans if span.leg in self.ends}
        found = []
        for wish in self.maneuver.wishes:
            when = ends[wish.at] if wish.at in ends else moments[wish.at]()
            found.append(float(np.interp(when, time, trace[wish.what])))
        return found

    def _sentence(self, target: _Target, value: float) -> str:
        """What a wish asked for and what comes out instead."""
        wish = target.wish
        unit, name = _SHOWN[WISH_KINDS[wish.what]]
        off = (value - min(max(value, target.low), target.high)) / unit
        if wish.between is not None:
            wanted = f"{wish.between[0]} to {wish.between[1]}"
        else:
            wanted = f"{target.low / unit:.0f} {name}, within {wish.within}"
        what = _CALLED.get(wish.what, wish.what)
        return (
            f"at {wish.at}, {what} comes out at {value / unit:.0f} {name}, "
            f"{abs(off):.0f} {name} {'above' if off > 0 else 'below'} what is asked ({wanted})"
        )


def _peak(time: Floats, values: Floats) -> float:
    """When a trace is greatest, refined by the parabola through the three samples around it."""
    index = int(values.argmax())
    if index in (0, len(values) - 1):
        return float(time[index])
    t, v = time[index - 1 : index + 2], values[index - 1 : index + 2]
    a, b, _ = np.polyfit(t - t[1], v, 2)
    return float(t[1] - b / (2.0 * a)) if a < 0.0 else float(t[1])
