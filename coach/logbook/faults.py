"""What can be wrong with a run that was read, from the logbook's file or from an export.

Never how a name is written: see `coach.logbook.texts`. What is left are its parts and its numbers,
which have the same bounds wherever they come from, and whatever the clock says today.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import get_args

from coach.hand import motion
from coach.logbook.run import HEADING, TRACE_COLUMNS, Ending, LoggedRun, Run
from coach.script.asked import ASKED
from coach.script.tolerance import Tolerance
from coach.taps.unheard import WHYS
from coach.words import counted

TIME_S = motion.TIME_S
"""Of taps and checkpoints too: a count-in before the flight, and ten hours."""

PACE = (0.1, 10.0)

FIGURE = (-1e6, 1e6)
"""Everything else that a run tells in figures: no airplane comes near to it in any unit."""

LOOP = (0, 1000)

YEARS = (1970, 2099)
"""Of a run's start. A machine whose clock was never set begins in the first of them."""

MOST_CHECKPOINTS, MOST_TAPS, MOST_ROWS, MOST_OF_THE_DAY = 1000, 20_000, 100_000, 100
"""Of a run; the rows are those of its trace."""

MOST_PARTS = 50_000
"""Of a run's motion: more than there are seconds in a run."""

MOST_UNHEARD, MOST_TOLERANCES, MOST_NAMED = 20_000, 100, 100
"""Of a run, and of the checkpoints at which one tolerance holds."""

LONGEST_TEXT = 200
"""Letters of a name, a title, or anything else in words."""

APART_S = 1e-6
"""Checkpoints nearer to each other are none that could be flown."""


def faults(run: Run) -> Iterator[str]:
    """Each fault as half a sentence; take the first, for later ones may rest on it.

    Args:
        run: a run with moments, taps and a start; any other field may hold anything.
    """
    yield from _too_much(run)
    if not _are_within(TIME_S, [run.reached_s]):
        yield f"how far it got must be {_range(TIME_S)} s"
    if not _is_trace(run.trace):
        yield (
            f"its trace must have the columns {', '.join(TRACE_COLUMNS)}, of one length, with "
            f"figures {_range(FIGURE)} and increasing times"
        )
    if wrong := motion.fault(run.motion):
        yield f"of its motion {wrong}"
    for moment in run.moments:
        loop, name, time_s, *figures, asks = vars(moment).values()
        if not (isinstance(name, str) and isinstance(loop, int) and _are_within(LOOP, [loop])):
            yield f"its checkpoints must have a name, and a loop {_range(LOOP)}"
        if not (_are_within(TIME_S, [time_s]) and _are_within(FIGURE, figures)):
            yield f"its checkpoints must have times {_range(TIME_S)} s and figures {_range(FIGURE)}"
        if not all(isinstance(asked, str) and asked in ASKED for asked in asks):
            yield "a question in its checkpoints is unknown"
    times = [moment.time_s for moment in run.moments]
    if any(after - before < APART_S for before, after in itertools.pairwise(times)):
        yield "its checkpoints must be in the order of their times"
    for tap in run.taps:
        given = (one for one in (tap.value, tap.hesitation_s) if one is not None)
        if not (_are_within(TIME_S, [tap.time_s]) and _are_within(FIGURE, given)):
            yield f"its taps must have times {_range(TIME_S)} s and figures {_range(FIGURE)}"
        if tap.how not in ("key", "voice"):
            yield "a tap in it is neither by key nor by voice"
    for lost in run.unheard:
        if not (_are_within(TIME_S, [lost.from_s, lost.to_s]) and lost.from_s <= lost.to_s):
            yield f"its unheard passages must have times {_range(TIME_S)} s, in their order"
        if lost.why not in WHYS:
            yield "why something in it was not heard is unknown"
    if not all(_is_tolerance(one) for one in run.tolerances):
        yield (
            "its tolerances must be of a number that is asked for, at checkpoints, with a source, "
            f"and figures from 0 to {FIGURE[1]:,g} that are not both 0"
        )
    if not _is_day(run.day):
        yield "its day must be words and figures by their names"
    yield from line_faults(run)
    if run.score and run.score.checkpoints > len(run.moments):
        yield "its score counts more than there is to count"


def line_faults(run: Run | LoggedRun) -> Iterator[str]:
    """The same for what a line of the logbook tells of a run."""
    if run.started.tzinfo is None:
        yield "its start has no time zone"
    if not _are_within(YEARS, [run.started.year]):
        yield f"its start must be in the years {YEARS[0]} to {YEARS[1]}"
    if not _are_within(PACE, [run.pace]):
        yield f"its pace must be a number {_range(PACE)}"
    if run.ended not in get_args(Ending):
        yield "its ending is unknown"
    if (score := run.score) is None:
        return
    counts = (score.on_time, score.tapped, score.checkpoints, score.flown)
    error = score.absolute_error_s
    if not (
        all(isinstance(one, int) for one in counts)
        and (error is None or _are_within(FIGURE, [error]))
    ):
        yield f"its score must be counts, and an error {_range(FIGURE)} s"
    is_sound = 0 <= score.on_time <= score.tapped <= score.checkpoints <= MOST_CHECKPOINTS
    if not is_sound or not 0 <= score.flown <= score.checkpoints:
        yield "its score counts more than there is to count"


def _too_much(run: Run) -> Iterator[str]:
    for there, most, what in (
        (len(run.moments), MOST_CHECKPOINTS, "checkpoint"),
        (len(run.taps), MOST_TAPS, "tap"),
        (len(run.unheard), MOST_UNHEARD, "unheard passage"),
        (len(run.tolerances), MOST_TOLERANCES, "tolerance"),
    ):
        if there > most:
            yield f"it has {counted(there, what)}, {most:,} at most"


def _is_trace(found: object) -> bool:
    """Whether it is a trace; an empty one is."""
    if not isinstance(found, dict) or (found and set(found) - {HEADING} != set(TRACE_COLUMNS)):
        return False
    columns = list(found.values())
    return (
        all(isinstance(one, list) and len(one) <= MOST_ROWS for one in columns)
        and all(_are_within(FIGURE, column) for column in columns)
        and len(set(map(len, columns))) <= 1
        and all(before <= after for before, after in itertools.pairwise(found.get("t_s", ())))
    )


def _is_tolerance(found: Tolerance) -> bool:
    bounds = (found.below, found.above)
    return (
        isinstance(found.of, str)
        and found.of in ASKED
        and _are_within((0.0, FIGURE[1]), bounds)
        and any(bounds)
        and len(found.at) <= MOST_NAMED
        and all(isinstance(name, str) for name in found.at)
        and isinstance(found.source, str)
    )


def _is_day(found: object) -> bool:
    return (
        isinstance(found, dict)
        and len(found) <= MOST_OF_THE_DAY
        and all(isinstance(name, str) and len(name) <= LONGEST_TEXT for name in found)
        and all(
            value is None
            or (isinstance(value, str) and len(value) <= LONGEST_TEXT)
            or _are_within(FIGURE, [value])
            for value in found.values()
        )
    )


def _are_within(bounds: tuple[float, float], found: Iterable[object]) -> bool:
    # Nothing that is infinite or no number (nan) is.
    low, high = bounds
    return all(isinstance(one, (int, float)) and low <= one <= high for one in found)


def _range(bounds: tuple[float, float]) -> str:
    return f"from {bounds[0]:,g} to {bounds[1]:,g}"
