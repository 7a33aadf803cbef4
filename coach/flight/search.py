"""The search: finds a script's unknowns so that its wishes come true for this airplane and day."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from coach.flight.airplane import Airplane, Performance, derive
from coach.flight.atmosphere import power_ratio, true_airspeed
from coach.flight.conditions import Conditions
from coach.flight.flight import Flight
from coach.flight.flying import Flyer
from coach.flight.history import Floats, History, peak
from coach.flight.sortie import Sortie
from coach.problems import Problem
from coach.script.maneuver import Maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT, STANDARD_GRAVITY
from coach.script.targets import Sought
from coach.script.wishes import WISH_KINDS, Wish

PLAN_STEP = 0.75
"""Longest time step while searching, s; over a loop it errs by 0.1 ft, 0.01 kt and 0.01 deg."""

STABLE = 1.8
"""Longest step as a multiple of the time in which the flight path follows the nose; the method
diverges at 2.8 times (any text on Runge-Kutta methods)."""

FLY_STEP = 0.2
"""Longest time step of the flight that is kept, s; between steps it is read along a straight."""

PULL = 0.3
"""Pull of an unknown to its start, small beside a wish: it decides what the wishes leave open."""

CLOSE = 0.02
"""A wish missed by less than this share of what is acceptable counts as met by the search."""

PROBE = 1e-3
"""Share of its range by which an unknown is moved to measure a slope: a leg that a law ends is over
at a moment found along a straight, so that smaller steps would measure that."""

MOST_SEARCHED = 30_000
"""Steps that a search may fly; what it has found by then is judged. The library's most expensive
maneuver takes 24,000."""

LEAST_SEARCHED = 60
"""So many steps a flight counts for at least: to measure it takes its time too."""

OPEN = 0.25
"""A range missed by more than this share of a tenth of its width is told (here about a degree)."""

_SHOWN = {"angle": (DEGREE, "deg"), "speed": (KNOT, "kt"), "length": (FOOT, "ft")}
_CALLED = {"turned": "heading change"}


@dataclass(frozen=True)
class _Target:
    """A wish in numbers: the range that is right, and the error that is just acceptable.

    ``asked`` is the same in words.
    """

    wish: Wish
    low: float
    high: float
    within: float
    asked: str

    def miss(self, value: float) -> float:
        """How far outside the range, signed, in units of what is acceptable."""
        return (value - min(max(value, self.low), self.high)) / self.within


class _Slopes:
    """How the misses change with the unknowns, learnt as the search goes on.

    Measured once by forward differences, then corrected after each step by what that step showed
    (Broyden, Mathematics of Computation 19, 1965, from memory): a flight instead of one for each
    unknown.
    """

    def __init__(self, misses: Callable[[Floats], Floats]) -> None:
        self.misses = misses
        self.at: Floats | None = None
        self.before = self.slopes = np.empty(0)

    def __call__(self, shares: Floats) -> Floats:
        """The Jacobian, shape (misses, unknowns)."""
        found = self.misses(shares)
        if self.at is None:
            step = np.where(shares < 0.5, PROBE, -PROBE)
            self.slopes = np.column_stack(
                [
                    (self.misses(shares + step * one) - found) / step[index]
                    for index, one in enumerate(np.eye(len(shares)))
                ]
            )
        else:
            moved = shares - self.at
            if moved.any():
                wrong = found - self.before - self.slopes @ moved
                self.slopes = self.slopes + np.outer(wrong, moved) / (moved @ moved)
        self.at, self.before = shares.copy(), found
        return self.slopes


class _Spent(Exception):
    """A search has flown as much as it may."""


class Search:
    """One planning problem: the script's names bound to one airplane and day.

    The unknowns are found by bounded non-linear least squares on one loop: a wish with ``is`` is
    driven to its value, one with ``between`` only into its range.
    """

    def __init__(self, maneuver: Maneuver, airplane: Airplane, conditions: Conditions) -> None:
        self.maneuver = maneuver
        self.airplane = airplane
        self.conditions = conditions
        self.performance: Performance = derive(airplane)
        self.air = conditions.density(conditions.altitude)
        speed = true_airspeed(conditions.entry_speed, self.air)
        plane = self.performance
        lift = conditions.mass * STANDARD_GRAVITY / (0.5 * self.air * speed**2 * plane.wing_area)
        self.step = min(PLAN_STEP, STABLE * speed * lift / (STANDARD_GRAVITY * plane.lift_slope))
        self.targets = [self._target(wish) for wish in maneuver.wishes]
        self.measured: dict[tuple[float, ...], list[float]] = {}
        self.left = MOST_SEARCHED
        self.dearest = 0

    def solve(self) -> dict[str, float]:
        """Every unknown's value, in SI units."""
        unknowns = self.maneuver.ranges
        bounds = np.array(list(unknowns.values())).reshape(-1, 3)
        match self.maneuver.entry.power:
            case Sought(name):  # no throttle gives more than the engine has
                most, index = power_ratio(self.air), list(unknowns).index(name)
                bounds[index] = np.minimum(bounds[index], [most - 0.02, most - 0.01, most])
        low, width = bounds[:, 0], np.maximum(bounds[:, 2] - bounds[:, 0], 1e-9)
        start = (bounds[:, 1] - low) / width

        def values(shares: Floats) -> dict[str, float]:
            return dict(zip(unknowns, (low + width * shares).tolist(), strict=True))

        best = (math.inf, start)

        def misses(shares: Floats) -> Floats:
            nonlocal best
            if self.left < self.dearest:
                raise _Spent
            found = self._measure(values(shares))
            wished = [t.miss(v) for t, v in zip(self.targets, found, strict=True)]
            missed = np.concatenate([wished, PULL * (shares - start)])
            best = min(best, (float(missed @ missed), shares.copy()), key=lambda one: one[0])
            return missed

        if not unknowns:
            return {}
        inside = np.clip(start, 1e-6, 1.0 - 1e-6)
        with contextlib.suppress(_Spent):
            quick = least_squares(
                misses, inside, _Slopes(misses), bounds=(0.0, 1.0), x_scale=0.1, max_nfev=40
            )
            if np.abs(quick.fun[: len(self.targets)]).max(initial=0.0) > CLOSE:
                quick = least_squares(
                    misses,
                    quick.x,
                    bounds=(0.0, 1.0),
                    x_scale=0.1,
                    diff_step=[PROBE] * len(start),
                    max_nfev=60,
                )
            return values(quick.x)
        return values(best[1])

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
                f"{max(missed)[1]}; try another weight, altitude, entry speed or wind."
            )
        return tuple(shortfalls)

    def flight(self, values: dict[str, float], shortfalls: tuple[str, ...]) -> Flight:
        """All loops, finely integrated."""
        sides = self.maneuver.loop_sides(self.conditions.loops, self.conditions.first_side)
        flyer = self._flyer(values, FLY_STEP)
        instants, spans = flyer.fly(sides)
        return Flight(
            maneuver=self.maneuver,
            airplane=self.airplane,
            performance=self.performance,
            solved=values,
            power=flyer.sortie.machine.power_share(self.air),
            level_pitch=flyer.sortie.level_pitch,
            history=History(self.conditions, tuple(sides), tuple(spans), np.array(instants)),
            shortfalls=shortfalls,
        )

    def _target(self, wish: Wish) -> _Target:
        if wish.between is not None:
            least, most = wish.between
            low, high = least.value, most.value
            asked = f"{least.written} to {most.written}"
            return _Target(wish, low, high, 0.1 * (high - low), asked)
        assert wish.is_ is not None and wish.within is not None, "checked by `faults`"
        if wish.what == "speed":
            value = self._flyer({}).sortie.speed(wish.is_)
        else:
            altitude, ground = self.conditions.altitude, self.conditions.ground
            base = {"entry": altitude, "start": altitude, "ground": ground}
            value = wish.is_.of(base.get(wish.is_.base or "", 0.0))
        unit, name = _SHOWN[WISH_KINDS[wish.what]]
        asked = f"{value / unit:.0f} {name}, within {wish.within.written}"
        return _Target(wish, value, value, wish.within.value, asked)

    def _flyer(self, values: dict[str, float], step: float | None = None) -> Flyer:
        step = step or self.step
        sortie = Sortie(self.maneuver, self.airplane, self.performance, self.conditions, values)
        return Flyer(sortie, step)

    def _measure(self, values: dict[str, float]) -> list[float]:
        """What each wish is about, as the first loop flown with these values has it."""
        key = tuple(values.values())
        if key not in self.measured:
            self.measured[key] = self._flown(values) if self.maneuver.wishes else []
        return self.measured[key]

    def _flown(self, values: dict[str, float]) -> list[float]:
        """The same, flown now."""
        flyer, side = self._flyer(values), self.conditions.first_side
        instants, spans = flyer.fly([side])
        cost = max(LEAST_SEARCHED, len(instants))
        self.left, self.dearest = self.left - cost, max(self.dearest, cost)
        history = History(self.conditions, (side,), tuple(spans), np.array(instants))
        time, altitude = history.recorded("time"), history.recorded("altitude")
        pitch = history.recorded("pitch")
        trace: dict[str, Floats] = {
            "turned": history.turned,
            "pitch": pitch - flyer.sortie.level_pitch,
            "speed": history.indicated,
            "altitude": altitude,
            "ahead": history.ahead,
            "beside": history.beside,
        }
        moments: dict[str, Callable[[], float | None]] = {
            "lowest speed": lambda: peak(time, -trace["speed"]),
            "greatest altitude": lambda: peak(time, altitude),
            "highest pitch": lambda: peak(time, pitch),
            "lowest pitch": lambda: peak(time, -pitch),
        }
        named = {one.name: one.anchor for one in self.maneuver.checkpoints}
        found = []
        for wish in self.maneuver.wishes:
            if wish.at in moments:
                when = moments[wish.at]()
            else:
                when = history.when(named[wish.at], 1, flyer.sortie.speed)
            # A moment that does not come is as far off as the flight goes on.
            found.append(
                float(np.interp(time[-1] if when is None else when, time, trace[wish.what]))
            )
        return found

    def _sentence(self, target: _Target, value: float) -> str:
        """What a wish asked for and what comes out instead."""
        wish = target.wish
        unit, name = _SHOWN[WISH_KINDS[wish.what]]
        off = (value - min(max(value, target.low), target.high)) / unit
        what = _CALLED.get(wish.what, wish.what)
        return (
            f"at {wish.at}, {what} comes out at {value / unit:.0f} {name}, "
            f"{abs(off):.0f} {name} {'above' if off > 0 else 'below'} what is asked "
            f"({target.asked})"
        )
