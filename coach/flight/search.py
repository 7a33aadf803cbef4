"""The search: finds a script's unknowns so that its wishes come true for this airplane and day."""

from __future__ import annotations

import contextlib
import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from coach.flight.aims import Aim, measured
from coach.flight.airplane import Airplane
from coach.flight.conditions import Conditions
from coach.flight.fit import derive
from coach.flight.flight import Flight
from coach.flight.flying import MOST_S, Flyer, closing
from coach.flight.history import Floats, History, Span
from coach.flight.integration import Instant
from coach.flight.motion import Machine
from coach.flight.performance import Performance
from coach.flight.sortie import Aircraft, Sortie
from coach.flight.squares import quick
from coach.problems import Problem
from coach.script.maneuver import Maneuver
from coach.script.targets import Sought, uses

PLAN_STEP = 1.0
"""Longest time step while searching, s; over a loop it errs by 0.1 ft, 0.01 kt and 0.01 deg."""

STABLE = 2.2
"""Longest step as a multiple of the time in which the flight path follows the nose; the method
diverges at 2.8 times (any text on Runge-Kutta methods)."""

FLY_STEP = 0.2
"""Longest time step of the flight that is kept, s; between steps it is read along a straight."""

PULL = 0.3
"""Pull of an unknown to its start, small beside a wish: it decides what the wishes leave open."""

ATTEMPTS = 8
"""How often slopes are measured anew where a quick search has not come to its aims."""

STUCK = 1e-3
"""A search from fresh slopes that moves no unknown by more than this share is at its end."""

MET = 0.03
"""A search is over when every wish is missed by less than this share of what is acceptable."""

CLOSE = 0.3
"""A wish missed by less than this share of what is acceptable counts as met by the search."""

MOST_SEARCHED = 30_000
"""Steps that a search may fly; what it has found by then is judged. The library's most expensive
maneuver takes 24,000."""

LEAST_SEARCHED = 60
"""So many steps a flight counts for at least: to measure it takes its time too."""

OPEN = 0.25
"""A range missed by more than this share of a tenth of its width is told (here about a degree)."""


class _Spent(Exception):
    """A search has flown as much as it may."""


class Loop(NamedTuple):
    """A loop whose unknowns are sought.

    Attributes:
        craft: where it begins, or None at the entry, which an unknown may be a part of.
        side: its direction.
        on: whether it goes on into one to the other side, through level without a stop.
    """

    craft: Aircraft | None
    side: int
    on: bool


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
        sortie = self._sortie({})
        self.speed = sortie.entry_state.speed
        machine = Machine(self.performance, conditions.mass, 0.0, conditions.density)
        self.step = min(PLAN_STEP, STABLE * machine.lag(sortie.entry_state))
        self.aims = [Aim.of(wish, sortie) for wish in maneuver.wishes]
        self.slopes: dict[str, Floats] = {}
        self.measured: dict[tuple[object, ...], list[float]] = {}
        self.left = MOST_SEARCHED
        self.dearest = 0

    def plan(self) -> Flight:
        """The whole maneuver, finely integrated.

        Loops are of different kinds where some go on into one to the other side through level and
        others begin or end at rest: each kind has its own values, sought from those of the last.

        Raises:
            Problem: a wish with ``is`` is missed; the worst one is named.
        """
        sides = self.maneuver.loop_sides(self.conditions.loops, self.conditions.first_side)
        through = [before == -after for before, after in pairwise(sides)]
        if not (self.maneuver.legs[0].by_attitude and self.maneuver.legs[-1].by_attitude):
            through = [False] * len(through)
        kinds = list(zip([False, *through], [*through, False], strict=True))
        known: dict[tuple[bool, bool], dict[str, float]] = {}
        shortfalls: dict[str, None] = {}
        craft, values = None, None
        for index, (kind, side) in enumerate(zip(kinds, sides, strict=True)):
            loop = Loop(craft, side, kind[1])
            if kind not in known:
                known[kind] = self.solve(loop, values)
                shortfalls |= dict.fromkeys(self.judge(loop, known[kind]))
            values = known[kind]
            if not known.keys() >= set(kinds[index:]):
                flyer = self._flyer(values, self.step)
                start = craft or flyer.sortie.entry
                craft, *_ = flyer.loop(start, 0, side, on=kind[1])
        return self._flight(sides, [(known[kind], kind[1]) for kind in kinds], tuple(shortfalls))

    def solve(self, loop: Loop, last: dict[str, float] | None) -> dict[str, float]:
        """Every unknown's value, in SI units; ``last`` are those of the loop before."""
        unknowns = self.maneuver.ranges
        if loop.craft is not None:  # what was chosen at the entry stays
            used = {sought.name for _, sought in uses(self.maneuver.legs)}
            unknowns = {name: one for name, one in unknowns.items() if name in used}
        bounds = np.array(list(unknowns.values())).reshape(-1, 3)
        match self.maneuver.entry.power:
            case Sought(name) if name in unknowns:  # no throttle gives more than the engine has
                most = self.performance.propeller.output(1.0, self.speed, self.air).power
                index = list(unknowns).index(name)
                bounds[index] = np.minimum(bounds[index], [most - 0.02, most - 0.01, most])
        low, width = bounds[:, 0], np.maximum(bounds[:, 2] - bounds[:, 0], 1e-9)
        if last is not None:
            bounds[:, 1] = [last[name] for name in unknowns]
        start = (bounds[:, 1] - low) / width

        def values(shares: Floats) -> dict[str, float]:
            found = dict(zip(unknowns, (low + width * shares).tolist(), strict=True))
            return {**(last or {}), **found}

        best = (math.inf, start)

        def misses(shares: Floats) -> Floats:
            nonlocal best
            if self.left < self.dearest:
                raise _Spent
            found = self._measure(loop, values(shares))
            wished = [aim.miss(value) for aim, value in zip(self.aims, found, strict=True)]
            missed = np.concatenate([wished, PULL * (shares - start)])
            best = min(best, (float(missed @ missed), shares.copy()), key=lambda one: one[0])
            return missed

        def met(missed: Floats) -> bool:
            return bool((np.abs(missed[: len(self.aims)]) < MET).all())

        if not unknowns:
            return {}
        slopes = None
        if self.slopes:  # those of the loop before are near enough to begin with
            pulled = PULL * np.eye(len(start))
            slopes = np.vstack([np.column_stack([self.slopes[name] for name in unknowns]), pulled])
        shares = np.clip(start, 0.0, 1.0)
        with contextlib.suppress(_Spent):
            for _ in range(ATTEMPTS):
                found = quick(misses, shares, slopes, met)
                off = zip(self.aims, found.missed.tolist(), strict=False)
                if all(abs(miss) < (OPEN if aim.wish.is_ is None else CLOSE) for aim, miss in off):
                    break
                if slopes is None and np.abs(found.shares - shares).max() < STUCK:
                    break
                shares, slopes = found.shares, None
            learnt = found.slopes[: len(self.aims)].T
            self.slopes = dict(zip(unknowns, learnt, strict=True))
            return values(found.shares)
        return values(best[1])

    def judge(self, loop: Loop, values: dict[str, float]) -> tuple[str, ...]:
        """The wishes with ``between`` that stay open, as sentences.

        Raises:
            Problem: a wish with ``is`` is missed; the worst one is named.
        """
        missed: list[tuple[float, str]] = []
        shortfalls = []
        for aim, value in zip(self.aims, self._measure(loop, values), strict=True):
            miss = aim.miss(value)
            if aim.wish.is_ is not None and abs(miss) > 1.0:
                missed.append((abs(miss), aim.sentence(value)))
            elif aim.wish.is_ is None and abs(miss) > OPEN:
                shortfalls.append(aim.sentence(value))
        if missed:
            raise Problem(
                f"{self.airplane.title} cannot fly this {self.maneuver.title.lower()} on this day: "
                f"{max(missed)[1]}; try another weight, altitude, entry speed or wind."
            )
        return tuple(shortfalls)

    def _flight(
        self, sides: list[int], loops: list[tuple[dict[str, float], bool]],
        shortfalls: tuple[str, ...],
    ) -> Flight:  # fmt: skip
        """All loops with their values, finely integrated."""
        sortie = self._sortie(loops[0][0])
        craft, instants, spans = sortie.entry, list[Instant](), list[Span]()
        for index, (side, (values, on)) in enumerate(zip(sides, loops, strict=True)):
            if index % len(self.maneuver.sides) == 0:
                most = craft.time + MOST_S
            flyer, left = self._flyer(values, FLY_STEP), most - craft.time
            craft, flown, legs = flyer.loop(craft, index, side, on=on, left=left)
            instants, spans = instants + flown, spans + legs
        output = sortie.machine.output(sortie.entry_state)
        return Flight(
            maneuver=self.maneuver,
            airplane=self.airplane,
            performance=self.performance,
            solved=loops[0][0],
            power=output.power,
            turns=output.turns,
            level_pitch=sortie.level_pitch,
            history=self._history(sides, spans, instants, craft),
            shortfalls=shortfalls,
        )

    def _sortie(self, values: dict[str, float]) -> Sortie:
        return Sortie(self.maneuver, self.airplane, self.performance, self.conditions, values)

    def _flyer(self, values: dict[str, float], step: float) -> Flyer:
        return Flyer(self._sortie(values), step)

    def _history(
        self, sides: list[int], spans: list[Span], instants: list[Instant], craft: Aircraft
    ) -> History:
        rows = np.array([*instants, closing(instants[-1], craft)])
        return History(self.conditions, tuple(sides), tuple(spans), rows)

    def _measure(self, loop: Loop, values: dict[str, float]) -> list[float]:
        """What each wish is about, as a loop flown with these values has it."""
        key = (loop.on, loop.craft and loop.craft.time, *values.values())
        if key not in self.measured:
            self.measured[key] = self._flown(loop, values) if self.aims else []
        return self.measured[key]

    def _flown(self, loop: Loop, values: dict[str, float]) -> list[float]:
        """The same, flown now."""
        flyer = self._flyer(values, self.step)
        start = loop.craft or flyer.sortie.entry
        craft, instants, spans = flyer.loop(start, 0, loop.side, on=loop.on)
        cost = max(LEAST_SEARCHED, len(instants))
        self.left, self.dearest = self.left - cost, max(self.dearest, cost)
        return measured(flyer.sortie, self._history([loop.side], spans, instants, craft))
