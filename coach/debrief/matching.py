"""Which name or number belongs to which checkpoint; keys are matched by `coach.taps.timing`."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence

from coach.debrief.answers import NOW_S
from coach.flight.moment import Moment
from coach.taps.tap import Tap
from coach.taps.timing import ROUNDING_S, WINDOW_S


def named(
    moments: Sequence[Moment], planned: Sequence[float], done: Sequence[Tap]
) -> tuple[dict[int, Tap], tuple[tuple[str, ...], ...]]:
    """The name said nearest to each checkpoint, and those that belong elsewhere.

    A name is for the nearest checkpoint of that name that does not lie behind the last one named.
    Where there is none in the window, it is out of order at the nearest checkpoint.
    """
    found: dict[int, Tap] = {}
    misnamed: list[list[str]] = [[] for _ in moments]
    last = 0
    for tap in done:
        if not tap.said or tap.value is not None:
            continue
        away = _within(planned, tap.time_s, WINDOW_S)
        near = list(away)
        own = [index for index in near if index >= last and moments[index].name == tap.said]
        if own:
            last = min(own, key=away.__getitem__)
            if last not in found or away[last] < abs(planned[last] - found[last].time_s):
                found[last] = tap
        elif near:
            misnamed[min(near, key=away.__getitem__)].append(tap.said)
    return found, tuple(map(tuple, misnamed))


def numbered(
    planned: Sequence[float], done: Sequence[Tap], tapped: Mapping[int, Tap]
) -> dict[int, Tap]:
    """For checkpoints that are not tapped, the nearest number that means "now" as well."""
    numbers = [tap for tap in done if tap.value is not None and tap.hesitation_s is None]
    times = [tap.time_s for tap in numbers]
    found = {}
    taken = set[int]()
    for index, at in enumerate(planned):
        near = {one: off for one, off in _within(times, at, NOW_S).items() if one not in taken}
        if near and index not in tapped:
            nearest = min(near, key=near.__getitem__)
            found[index] = numbers[nearest]
            taken.add(nearest)
    return found


def _within(times: Sequence[float], at: float, most: float) -> dict[int, float]:
    """Which of some increasing times lie so near, by index, and how near."""
    first = bisect_left(times, at - most - ROUNDING_S)
    last = bisect_right(times, at + most + ROUNDING_S)
    away = {index: abs(times[index] - at) for index in range(first, last)}
    return {index: error for index, error in away.items() if error <= most}
