"""How a hand moves one thing over time: cubic pieces that join with their rates.

Of all curves through given values the cubic spline bends least: it has the smallest integral of the
squared second derivative (any text on splines, from C. de Boor's on). So it is what a smooth hand
does that has to be somewhere at some times.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

STEADY_ENDS = 1.0
"""Seconds in which a steady change takes up its rate, and as many in which it ends (common
practice, no source)."""


class Knot(NamedTuple):
    """A value to be passed at a time; where ``rate`` is None it is whatever is smoothest."""

    time: float
    value: float
    rate: float | None = None


@dataclass(frozen=True)
class Curve:
    """Cubic pieces through ``values`` at ``times``, which are passed at ``rates``."""

    times: tuple[float, ...]
    values: tuple[float, ...]
    rates: tuple[float, ...]

    @classmethod
    def still(cls, value: float) -> Curve:
        """Nothing moves."""
        return cls((0.0, 1.0), (value, value), (0.0, 0.0))

    @classmethod
    def eased(cls, value: float, rate: float, last_rate: float, duration: float) -> Curve:
        """The rate changes evenly."""
        end = value + 0.5 * (rate + last_rate) * duration
        return cls((0.0, duration), (value, end), (rate, last_rate))

    @classmethod
    def through(cls, knots: Sequence[Knot], *, free: bool = False) -> Curve:
        """The smoothest curve through knots, of which the first has a rate.

        A value that is the highest or lowest of its neighbours is passed at no rate: there the hand
        turns back. Between two knots that have their rates it is the cubic spline clamped to these,
        but no rate is more than three times the mean rate on either side, so that the hand turns
        back nowhere else (Fritsch and Carlson, SIAM J. Numerical Analysis 17, 1980, from memory).

        Args:
            knots: in the order of their times; the last one's rate is 0 where none is given.
            free: the last one's rate is what is smoothest, too: the natural end of a spline.
        """
        times, values, given = zip(*knots, strict=True)
        rates = list(given)
        for k in range(1, len(knots) - 1):
            if rates[k] is None and _turns_back(*values[k - 1 : k + 2]):
                rates[k] = 0.0
        if not free and rates[-1] is None:
            rates[-1] = 0.0
        ends = [k for k, rate in enumerate(rates) if rate is not None or k == len(knots) - 1]
        for a, b in pairwise(ends):
            here = slice(a, b + 1)
            rates[here] = _spline_rates(times[here], values[here], rates[a], rates[b])
        for k in range(1, len(knots) - 1):
            if given[k] is None:
                before = (values[k] - values[k - 1]) / (times[k] - times[k - 1])
                after = (values[k + 1] - values[k]) / (times[k + 1] - times[k])
                way = math.copysign(3.0 * min(abs(before), abs(after)), before)
                rates[k] = max(min(way, 0.0), min(max(way, 0.0), rates[k]))
        return cls(times, values, tuple(rates))

    def at(self, time: float) -> tuple[float, float]:
        """The value and its rate; before the first and after the last knot as the piece there."""
        times = self.times
        k = min(max(bisect_right(times, time), 1), len(times) - 1)
        start, end = times[k - 1], times[k]
        width = end - start
        s = (time - start) / width
        first, last = self.values[k - 1], self.values[k]
        a, b = self.rates[k - 1] * width, self.rates[k] * width
        span = last - first
        cubic, square = a + b - 2.0 * span, 3.0 * span - 2.0 * a - b
        value = first + ((cubic * s + square) * s + a) * s
        return value, ((3.0 * cubic * s + 2.0 * square) * s + a) / width

    @property
    def fastest(self) -> float:
        """The greatest rate at a knot or halfway between two."""
        halves = [0.5 * (a + b) for a, b in pairwise(self.times)]
        return max(abs(self.at(time)[1]) for time in (*self.times, *halves))

    @property
    def sharpest(self) -> float:
        """The greatest change of rate, per second: at one end of a piece."""
        found = 0.0
        for (t, v, a), (u, w, b) in pairwise(zip(self.times, self.values, self.rates, strict=True)):
            mean, width = (w - v) / (u - t), u - t
            first, last = 6.0 * mean - 4.0 * a - 2.0 * b, 2.0 * a + 4.0 * b - 6.0 * mean
            found = max(found, abs(first) / width, abs(last) / width)
        return found


@dataclass(frozen=True)
class Stretch:
    """A part of a flight with every unknown filled in.

    Attributes:
        leg: which leg of the script it belongs to, from 0.
        start: when it begins, on the clock of its curves.
        duration: how long it takes, s.
        bank: the bank over time.
        pitch: the pitch attitude over time.
    """

    leg: int
    start: float
    duration: float
    bank: Curve
    pitch: Curve


def steady(knots: list[Knot], time: float, value: float) -> None:
    """Add to knots what goes on to a value at a constant rate, as far as there is the time."""
    began, first, given = knots.pop()
    rate = (value - first) / max(time - began - STEADY_ENDS, STEADY_ENDS)
    knots.append(Knot(began, first, given or 0.0))
    if time - began > 2.0 * STEADY_ENDS:
        half = 0.5 * rate * STEADY_ENDS
        knots.append(Knot(began + STEADY_ENDS, first + half, rate))
        knots.append(Knot(time - STEADY_ENDS, value - half, rate))
    knots.append(Knot(time, value, 0.0))


def _turns_back(before: float, here: float, after: float) -> bool:
    return (here - before) * (after - here) <= 0.0


def _spline_rates(
    times: Sequence[float], values: Sequence[float], first: float, last: float | None
) -> list[float]:
    """The rates at its knots that make a cubic spline of them (any text on splines).

    At an inner knot the second derivative of both pieces is the same; at a ``last`` one that is
    free it is 0.
    """
    widths = [b - a for a, b in pairwise(times)]
    slopes = [(b - a) / width for (a, b), width in zip(pairwise(values), widths, strict=True)]
    count = len(times)
    if count == 2 and last is not None:
        return [first, last]
    matrix, right = np.eye(count), np.zeros(count)
    right[0] = first
    for k in range(1, count - 1):
        before, after = widths[k - 1], widths[k]
        matrix[k, k - 1 : k + 2] = after, 2.0 * (before + after), before
        right[k] = 3.0 * (after * slopes[k - 1] + before * slopes[k])
    if last is None:
        matrix[-1, -2:] = 1.0, 2.0
        right[-1] = 3.0 * slopes[-1]
    else:
        right[-1] = last
    found: list[float] = np.linalg.solve(matrix, right).tolist()
    return found
