"""Which tap belongs to which checkpoint, and how far off the taps are.

Times are the student's own seconds from the first moment of the maneuver, increasing: at another
pace than 1 the caller divides the flight's seconds by the pace, or errors would look smaller the
slower it goes. Errors are signed seconds, a tap minus its checkpoint: early is negative.

Constant, variable and absolute error are those of motor learning (R. A. Schmidt and T. D. Lee,
Motor Control and Learning, from memory):

- constant error, CE: the mean signed error, how far early or late on the whole (bias);
- variable error, VE: the standard deviation of the errors about their own mean, dividing by their
  number, not by one less (spread);
- absolute error, AE: the mean of the errors without their signs.

The tempo is the slope of actual against planned time by the method of Theil and Sen: the median of
the slopes between all pairs, which two wild taps in ten hardly move. Its interval is P. K. Sen's
(J. American Statistical Association 63 (1968) 1379-1389, from memory), at 95 %; with fewer than
`TEMPO_LEAST` taps even the whole range of slopes would hold it less often, so there is none.

The F-measure weighs missed checkpoints and extra taps alike: pairs over the mean of how many
checkpoints and how many taps there are (as for beats in music: S. Dixon, J. New Music Research 36
(2007) 39-50, from memory). Its tolerance is the window of the matching.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from coach.problems import Problem

WINDOW_S = 4.0
"""How far from its checkpoint a tap may be.

The checkpoints of a lazy eight lie 6 to 12 s apart, so a tap up to 2 s off lies outside its
neighbours' windows and can pass for none of them, while a student who drifts by 3 % is still
followed to the end of 130 s.
"""

BOUNCE_S = 0.08
"""Presses closer than this are one tap: a switch bounces, while quick fingers tap 5 to 7 times a
second (norms of the finger tapping test, from memory)."""

ROUNDING_S = 1e-9  # more than that of any time here

TEMPO_LEAST = 5

OWN_TEMPI = tuple(percent / 100 for percent in range(80, 121))
"""A step of 1 % leaves at most 0.7 s of error after 132 s."""

OWN_WINDOW_S = 1.0
OWN_SHARE = 0.8
OWN_LEAST = 6
"""So many checkpoints so closely: none of 8,000 simulated runs of taps at random managed that."""

Group = TypeVar("Group", bound=Hashable)


@dataclass(frozen=True)
class Timing:
    """Taps against checkpoints.

    Attributes:
        pairs: (checkpoint index, tap index) of every match, both increasing.
        errors_s: the signed error of each pair, early negative.
        missed: indices of checkpoints without a tap.
        extra: indices of taps without a checkpoint.
        constant_error_s: mean signed error; None without a pair.
        variable_error_s: spread about that mean; None with fewer than 2 pairs.
        absolute_error_s: mean unsigned error; None without a pair.
        tempo: slope of actual against planned time, below 1 rushing, above 1 dragging; None with
            fewer than 3 pairs.
        tempo_low: the low end of its interval; None with fewer than `TEMPO_LEAST` pairs.
        tempo_high: the high end; None likewise.
    """

    pairs: tuple[tuple[int, int], ...]
    errors_s: tuple[float, ...]
    missed: tuple[int, ...]
    extra: tuple[int, ...]
    constant_error_s: float | None
    variable_error_s: float | None
    absolute_error_s: float | None
    tempo: float | None
    tempo_low: float | None
    tempo_high: float | None

    @property
    def f_measure(self) -> float:
        """Of checkpoints and taps, the share that found each other, 0 to 1; 0 without any."""
        there = 2 * len(self.pairs) + len(self.missed) + len(self.extra)
        return 2 * len(self.pairs) / there if there else 0.0


def distinct(presses_s: Sequence[float]) -> tuple[float, ...]:
    """The taps a student meant: of presses that follow each other within a bounce, the first.

    Args:
        presses_s: times of key presses in any order, seconds; a bounce or a repeating key gives
            several for one tap, and so does pressing while the flight is paused.

    Returns:
        Increasing times, each at least `BOUNCE_S` after the press before it.
    """
    presses = sorted(presses_s)
    return tuple(
        press
        for index, press in enumerate(presses)
        if index == 0 or press - presses[index - 1] >= BOUNCE_S
    )


def match(
    checkpoints_s: Sequence[float], taps_s: Sequence[float], window_s: float = WINDOW_S
) -> Timing:
    """Match taps to checkpoints, in order and one to one, best in total.

    Best is as many pairs as the window allows, then the least total absolute error, found by
    dynamic programming in time proportional to the checkpoints and the taps within their windows.

    Args:
        checkpoints_s: planned times, increasing.
        taps_s: actual times, increasing; pass key presses through `distinct` first.
        window_s: the largest error a pair may have, included.

    Returns:
        The pairs and their errors.

    Raises:
        Problem: times that are not finite or not increasing, or a window that is not above 0.
    """
    _require_increasing("checkpoints", checkpoints_s)
    _require_increasing("taps", taps_s)
    if not window_s > 0:
        raise Problem(f"window: must be above 0 s, not {window_s:g}.")
    return paired(checkpoints_s, taps_s, _best_pairs(checkpoints_s, taps_s, window_s))


def gauge(checkpoints_s: Sequence[float], taps_s: Sequence[float]) -> Timing:
    """Match as `match` does, but follow a student who keeps an own tempo out of the windows.

    Five percent quick is 6 s early after two minutes: by the clock those taps belong to the
    neighbours. Where some checkpoints are missed while some taps are left over, the taps are
    matched with the checkpoints at each tempo of `OWN_TEMPI` as well, within `OWN_WINDOW_S`. If one
    of them explains nearly all checkpoints, and more than the clock does, its pairs are taken.
    Errors are against the planned times either way.

    Args:
        checkpoints_s: planned times, increasing.
        taps_s: actual times, increasing.

    Raises:
        Problem: as `match`.
    """
    plain = match(checkpoints_s, taps_s)
    if not plain.missed or not plain.extra:
        return plain
    found = [
        _best_pairs([tempo * at for at in checkpoints_s], taps_s, OWN_WINDOW_S)
        for tempo in OWN_TEMPI
    ]
    best = max(found, key=len)
    needed = max(OWN_LEAST, OWN_SHARE * len(checkpoints_s), len(plain.pairs) + 1)
    return paired(checkpoints_s, taps_s, best) if len(best) >= needed else plain


def by(
    groups: Sequence[Group], checkpoints_s: Sequence[float], taps_s: Sequence[float], timing: Timing
) -> dict[Group, Timing]:
    """The same figures for each leg, each loop or any other group of checkpoints.

    Args:
        groups: each checkpoint's group, as long as ``checkpoints_s``.
        checkpoints_s: planned times, as they were matched.
        taps_s: actual times, as they were matched.
        timing: the match of the two.

    Returns:
        Each group's part of the match, in the order of their first checkpoints. Indices stay those
        of the whole. Extra taps belong to no checkpoint and so to no group.
    """
    members: dict[Group, list[int]] = {}
    for index, group in enumerate(groups):
        members.setdefault(group, []).append(index)
    return {
        group: _timing(
            checkpoints_s,
            taps_s,
            [pair for pair in timing.pairs if pair[0] in among],
            among,
            extra=(),
        )
        for group, among in members.items()
    }


def paired(
    checkpoints_s: Sequence[float], taps_s: Sequence[float], pairs: list[tuple[int, int]]
) -> Timing:
    """The timing of taps that were matched by something else than their times, such as their names.

    Args:
        checkpoints_s: planned times, increasing.
        taps_s: actual times.
        pairs: (checkpoint index, tap index), by checkpoint; each index once.
    """
    used = {tap for _, tap in pairs}
    extra = tuple(index for index in range(len(taps_s)) if index not in used)
    return _timing(checkpoints_s, taps_s, pairs, range(len(checkpoints_s)), extra)


def _timing(
    checkpoints_s: Sequence[float],
    taps_s: Sequence[float],
    pairs: list[tuple[int, int]],
    among: Collection[int],
    extra: tuple[int, ...],
) -> Timing:
    planned = [checkpoints_s[checkpoint] for checkpoint, _ in pairs]
    actual = [taps_s[tap] for _, tap in pairs]
    errors = [tap - checkpoint for checkpoint, tap in zip(planned, actual, strict=True)]
    enough = len(pairs)
    tempo, low, high = _tempo(planned, actual) if enough >= 3 else (None, None, None)
    tapped = {checkpoint for checkpoint, _ in pairs}
    return Timing(
        pairs=tuple(pairs),
        errors_s=tuple(errors),
        missed=tuple(index for index in among if index not in tapped),
        extra=extra,
        constant_error_s=statistics.fmean(errors) if enough else None,
        variable_error_s=statistics.pstdev(errors) if enough >= 2 else None,
        absolute_error_s=statistics.fmean(map(abs, errors)) if enough else None,
        tempo=tempo,
        tempo_low=low if enough >= TEMPO_LEAST else None,
        tempo_high=high if enough >= TEMPO_LEAST else None,
    )


def _tempo(planned: Sequence[float], actual: Sequence[float]) -> tuple[float, float, float]:
    slopes = sorted(
        (actual[j] - actual[i]) / (planned[j] - planned[i])
        for i in range(len(planned))
        for j in range(i + 1, len(planned))
    )
    count = len(planned)
    # How far Kendall's sum of signs strays by chance, in pairs.
    strays = 1.959964 * math.sqrt(count * (count - 1) * (2 * count + 5) / 18)
    low = max(0, round((len(slopes) - strays) / 2) - 1)
    high = min(len(slopes) - 1, round((len(slopes) + strays) / 2))
    return statistics.median(slopes), slopes[low], slopes[high]


def _best_pairs(
    checkpoints: Sequence[float], taps: Sequence[float], window: float
) -> list[tuple[int, int]]:
    # rows[i], of the first i checkpoints: how many taps lie before the last one's window, and from
    # there to its end the pairs and minus their total error, which compare in that order.
    rows = [(0, [(0, 0.0)])]

    def best(i: int, j: int) -> tuple[int, float]:
        first, row = rows[i]
        return row[min(j - first, len(row) - 1)]

    for i, checkpoint in enumerate(checkpoints):
        first = bisect_left(taps, checkpoint - window - ROUNDING_S)
        end = bisect_right(taps, checkpoint + window + ROUNDING_S)
        row = [best(i, first)]
        for j in range(first, end):
            count, total = best(i, j)
            error = abs(taps[j] - checkpoint)
            with_it = (count + 1, total - error) if error <= window else row[-1]
            row.append(max(best(i, j + 1), row[-1], with_it))
        rows.append((first, row))
    pairs = []
    i, j = len(checkpoints), len(taps)
    while i and j:
        if j <= rows[i][0] or best(i, j) == best(i - 1, j):
            i -= 1
        elif best(i, j) == best(i, j - 1):
            j -= 1
        else:
            i, j = i - 1, j - 1
            pairs.append((i, j))
    return pairs[::-1]


def _require_increasing(name: str, times: Sequence[float]) -> None:
    for index, time in enumerate(times):
        if not math.isfinite(time):
            raise Problem(f"{name}: time {index + 1} must be a finite number, not {time:g}.")
        if index and time <= times[index - 1]:
            raise Problem(
                f"{name}: times must increase, but number {index + 1} ({time:g} s) "
                f"does not come after {times[index - 1]:g} s."
            )
