"""A motion less its noise, at an even rate: what every measurement is made of.

Around each instant a straight line is fitted to the readings, each weighed by how near it lies (a
local linear fit with a Gaussian kernel: J. Fan and I. Gijbels, Local Polynomial Modelling and Its
Applications, 1996, from memory). Its value there is the attitude and its slope the rate. At the end
of what was read it leans to neither side, as a mean would. The readings are first dealt out to the
two nearest instants, so that few additions are enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from coach.hand.readings import Floats

Flags: TypeAlias = npt.NDArray[np.bool_]

RATE_HZ = 10.0
"""Instants a second: the kernel leaves nothing that is quicker than once or twice a second."""

KERNEL_S = 0.5
"""The kernel's standard deviation. It leaves a third of a hand's noise, and takes 0.25 degrees off
the top of a curve that bends by 2 deg/s2, the most in ordinary flight (`coach.flight.handling`)."""

LEAN_S2 = 0.2
"""At the end of what was read the line's slope is held to 0 as by so many more seconds squared of
readings: between a line, which noise turns, and a mean, which lags behind (a choice of ours)."""

_REACH_S = 3.5 * KERNEL_S

GAP_S = 0.3
"""Readings further apart say nothing of what is between them."""

LEAST_HZ = 8.0
"""Fewer readings a second say nothing of a hand."""

FROZEN_S = 1.0
"""No hand holds the very same hundredths of a degree for so long: the sensor stands, or the phone
lies on a table."""

LYING_S, STILLEST_DEG = 3.0, 0.06
"""Nor is so still for so long, by how far readings lie around their mean (root mean square), for a
phone that lies on a table has a noise of its own (common practice, no source: a hand that holds
something wanders by a few tenths of a degree)."""

BRIEF_S = 0.5
"""A shorter stretch is not seen either: a fit would rest on too few readings."""


@dataclass(frozen=True, eq=False)
class Smooth:
    """Pitch and bank at an even rate.

    Attributes:
        first: the number of the first instant; instant k is at k / `RATE_HZ` seconds.
        angles_deg: pitch and bank, shape (2, n); nan where nothing was seen.
        rates_dps: how fast they change, likewise.
        stretches: (from, to) in seconds where the motion was seen.
    """

    first: int
    angles_deg: Floats
    rates_dps: Floats
    stretches: tuple[tuple[float, float], ...]

    @property
    def time_s(self) -> Floats:
        """The instants, shape (n,)."""
        return (self.first + np.arange(self.angles_deg.shape[1])) / RATE_HZ

    def part(self, first: int, count: int) -> tuple[Floats, Floats]:
        """Angles and rates of so many instants from one on; nan beyond the ends; (2, count)."""
        out = np.full((2, 2, count), np.nan)
        last = self.first + self.angles_deg.shape[1]
        begin, end = max(first, self.first), min(first + count, last)
        if begin < end:
            inside = slice(begin - self.first, end - self.first)
            out[0, :, begin - first : end - first] = self.angles_deg[:, inside]
            out[1, :, begin - first : end - first] = self.rates_dps[:, inside]
        return out[0], out[1]

    def at(self, at_s: float) -> tuple[float, float] | None:
        """Pitch and bank at one time, up to half `GAP_S` beyond a stretch; None where not seen."""
        for from_s, to_s in self.stretches:
            if from_s - GAP_S / 2 <= at_s <= to_s + GAP_S / 2:
                inside = ~np.isnan(self.angles_deg[0])
                time = self.time_s
                inside &= (time >= from_s - GAP_S) & (time <= to_s + GAP_S)
                pitch, bank = wrapped(
                    [
                        np.interp(at_s, time[inside], np.unwrap(one[inside], period=360.0))
                        for one in self.angles_deg
                    ]
                )
                return float(pitch), float(bank)
        return None


def wrapped(degrees: npt.ArrayLike) -> Floats:
    """The same angles from -180 to 180."""
    given = np.asarray(degrees, dtype=np.float64)
    return np.asarray(given - 360.0 * np.round(given / 360.0))


def instant(at_s: float) -> int:
    """The number of the instant nearest to a time."""
    return round(at_s * RATE_HZ)


def flown(time_s: Sequence[float], pitch_deg: Sequence[float], bank_deg: Sequence[float]) -> Smooth:
    """A hand's motion, where it was seen."""
    time = np.asarray(time_s, dtype=np.float64)
    angles = np.array([pitch_deg, bank_deg], dtype=np.float64).reshape(2, -1)
    seen = stretches(time, angles)
    inside = within(time, seen)
    # A hand that is upside down trembles about 180 degrees of bank, the mean of which is not 0.
    angles[1] = np.unwrap(angles[1], period=360.0)
    found = _fitted(time[inside], angles[:, inside], seen)
    return replace(found, angles_deg=wrapped(found.angles_deg))


def planned(
    time_s: Sequence[float], pitch_deg: Sequence[float], bank_deg: Sequence[float]
) -> Smooth:
    """A plan; between two rows by the cubic with the slopes that their neighbours give them."""
    time = np.asarray(time_s, dtype=np.float64)
    angles = np.array([pitch_deg, bank_deg], dtype=np.float64).reshape(2, -1)
    if len(time) < 2:
        return _fitted(time[:0], angles[:, :0], ())
    fine = np.arange(np.ceil(time[0] * RATE_HZ), np.floor(time[-1] * RATE_HZ) + 1) / RATE_HZ
    slopes = np.array([np.gradient(axis, time) for axis in angles])
    row = np.minimum(np.searchsorted(time, fine, "right") - 1, len(time) - 2)
    width = time[row + 1] - time[row]
    share = (fine - time[row]) / width
    before, after = angles.take(row, 1), angles.take(row + 1, 1)
    rise, fall = slopes.take(row, 1) * width, slopes.take(row + 1, 1) * width
    # The cubic of Hermite.
    between = (
        (1 + 2 * share) * (1 - share) ** 2 * before + share * (1 - share) ** 2 * rise
        + share**2 * (3 - 2 * share) * after - share**2 * (1 - share) * fall
    )  # fmt: skip
    return _fitted(fine, between, ((float(time[0]), float(time[-1])),))


def within(time: Floats, stretches: Sequence[tuple[float, float]], around_s: float = 0.0) -> Flags:
    """Which of some increasing times lie in a stretch, or so near to it; shape (n,)."""
    edges = np.array(stretches, dtype=np.float64).reshape(-1, 2)
    changes = np.zeros(len(time) + 1, dtype=np.int64)
    np.add.at(changes, np.searchsorted(time, edges[:, 0] - around_s, "left"), 1)
    np.add.at(changes, np.searchsorted(time, edges[:, 1] + around_s, "right"), -1)
    return np.asarray(np.cumsum(changes)[:-1] > 0)


def runs(flags: Flags) -> npt.NDArray[np.intp]:
    """Begin and end (the first beyond) of every run of true flags, shape (n, 2)."""
    changes = np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))
    return np.flatnonzero(changes).reshape(-1, 2)


def stretches(time: Floats, angles: Floats) -> tuple[tuple[float, float], ...]:
    """Where a hand was seen: no gap over `GAP_S`, `LEAST_HZ` at least, not frozen, not lying.

    Args:
        time: of the readings, s, shape (n,), increasing.
        angles: pitch and bank, shape (2, n).

    Returns:
        (from, to) in seconds, increasing, each at least `BRIEF_S` long.
    """
    if len(time) < 2:
        return ()
    steps = np.diff(time)
    # An interval is good where some run of intervals around it is quick enough.
    run = int(LEAST_HZ)
    quick = time[run:] - time[:-run] <= 1.05 * run / LEAST_HZ
    quick = np.convolve(quick, np.ones(run)) > 0.5 if len(quick) else np.zeros(len(steps), bool)
    good = quick & (steps <= GAP_S) & ~_frozen(time, angles) & ~_lying(time, angles)
    edges = runs(good)
    found = [(float(time[begin]), float(time[end])) for begin, end in edges]
    return tuple((from_s, to_s) for from_s, to_s in found if to_s - from_s >= BRIEF_S)


def _frozen(time: Floats, angles: Floats) -> Flags:
    """The intervals of `FROZEN_S` and more in which nothing changes at all; shape (n - 1,)."""
    same = (np.diff(angles, axis=1) == 0.0).all(axis=0)
    for begin, end in runs(same):
        if time[end] - time[begin] < FROZEN_S:
            same[begin:end] = False
    return np.asarray(same)


def _lying(time: Floats, angles: Floats) -> Flags:
    """The intervals within any `LYING_S` that are stiller than a hand; shape (n - 1,)."""
    # From each reading on: the mean of squares less the square of the mean, by running sums.
    off = angles - angles.mean(axis=1, keepdims=True)
    sums = np.cumsum(np.concatenate([off, off**2]), axis=1)
    sums = np.concatenate([np.zeros((4, 1)), sums], axis=1)
    begin = np.arange(len(time))
    end = np.searchsorted(time, time + LYING_S, "right")
    means = (sums[:, end] - sums[:, begin]) / (end - begin)
    spread = (means[2:] - means[:2] ** 2).sum(axis=0)
    lies = (spread < STILLEST_DEG**2) & (time[end - 1] - time >= 0.9 * LYING_S)
    edges = np.zeros(len(time) + 1, dtype=np.int64)
    np.add.at(edges, begin[lies], 1)
    np.add.at(edges, end[lies] - 1, -1)
    return np.asarray(np.cumsum(edges)[: len(time) - 1] > 0)


def _fitted(time: Floats, angles: Floats, seen: tuple[tuple[float, float], ...]) -> Smooth:
    if not len(time):
        return Smooth(0, np.empty((2, 0)), np.empty((2, 0)), ())
    place = time * RATE_HZ
    first, last = int(np.floor(place[0])), int(np.ceil(place[-1]))
    count = last - first + 1
    cell = np.floor(place).astype(np.int64) - first
    share = place - np.floor(place)
    weights = np.array([np.ones_like(time), *angles])
    dealt = np.array(
        [
            np.bincount(cell, one * (1.0 - share), count + 1)
            + np.bincount(cell + 1, one * share, count + 1)
            for one in weights
        ]
    )[:, :count]
    reach = round(_REACH_S * RATE_HZ)
    away = np.arange(-reach, reach + 1) / RATE_HZ
    kernel = np.exp(-0.5 * (away / KERNEL_S) ** 2)

    def summed(values: Floats, power: int) -> Floats:
        # np.convolve turns its kernel round: what lies ahead is at a positive distance.
        out = np.convolve(values, kernel * (-away) ** power)
        return np.asarray(out[reach : reach + count])

    count_0, count_1, count_2 = (summed(dealt[0], power) for power in (0, 1, 2))
    spread = count_0 * count_2 - count_1**2
    held_2 = count_2 + LEAN_S2 * count_0
    held = count_0 * held_2 - count_1**2
    fitted, slopes = np.full((2, count), np.nan), np.full((2, count), np.nan)
    instants = (first + np.arange(count)) / RATE_HZ
    inside = within(instants, seen, 0.99 / RATE_HZ) & (spread > 1e-9)
    for axis in (0, 1):
        value_0, value_1 = (summed(dealt[1 + axis], power) for power in (0, 1))
        numerator = held_2 * value_0 - count_1 * value_1
        np.divide(numerator, held, out=fitted[axis], where=inside)
        np.divide(count_0 * value_1 - count_1 * value_0, spread, out=slopes[axis], where=inside)
    return Smooth(first, fitted, slopes, seen)
