"""What can be wrong with a run that was read: from the logbook's file, or from an export."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterable, Iterator
from typing import get_args

from coach.logbook.run import TRACE_COLUMNS, Ending, LoggedRun, Run
from coach.script.asked import ASKED


def faults(run: Run) -> Iterator[str]:
    """Each fault as half a sentence; take the first, for later ones may rest on it.

    Args:
        run: a run with moments, taps and a start; any other field may hold anything.
    """
    said = (tap.said for tap in run.taps if tap.said is not None)
    names = (run.student, run.maneuver, run.title, run.airplane, *said)
    if not all(map(_is_name, names)):
        yield "a name in it cannot be printed"
    if not _are_numbers([run.reached_s]):
        yield "how far it got is no number"
    if not _is_trace(run.trace):
        yield f"its trace must have the columns {', '.join(TRACE_COLUMNS)}, of one length"
    for moment in run.moments:
        loop, name, *numbers, asks = vars(moment).values()
        if not (isinstance(loop, int) and isinstance(name, str) and _are_numbers(numbers)):
            yield "its checkpoints must have a name and finite numbers"
        if not set(asks) <= set(ASKED):
            yield "a question in its checkpoints is unknown"
    times = [moment.time_s for moment in run.moments]
    if any(after <= before for before, after in itertools.pairwise(times)):
        yield "its checkpoints must be in the order of their times"
    for tap in run.taps:
        given = (one for one in (tap.value, tap.hesitation_s) if one is not None)
        if not _are_numbers([tap.time_s, *given]) or tap.how not in ("key", "voice"):
            yield "a tap in it is none, or not a finite number"
    yield from line_faults(run)
    if run.score and run.score.checkpoints > len(run.moments):
        yield "its score counts more than there is to count"


def line_faults(run: Run | LoggedRun) -> Iterator[str]:
    """The same for what a line of the logbook tells of a run."""
    if not _is_name(run.support):
        yield "its support cannot be printed"
    if run.started.tzinfo is None:
        yield "its start has no time zone"
    if not (_are_numbers([run.pace]) and run.pace > 0.0):
        yield f"its pace must be a number above 0, not {run.pace}"
    if run.ended not in get_args(Ending):
        yield f"its ending is unknown: {run.ended}"
    if (score := run.score) is None:
        return
    counts = (score.on_time, score.tapped, score.checkpoints)
    error = score.absolute_error_s
    if not (
        all(isinstance(one, int) for one in counts) and (error is None or _are_numbers([error]))
    ):
        yield "its score must be finite numbers"
    if not 0 <= score.on_time <= score.tapped <= score.checkpoints:
        yield "its score counts more than there is to count"


def _is_name(found: object) -> bool:
    # The last is what stands in the place of bytes that are no text.
    return (
        isinstance(found, str) and found.isprintable() and "\N{REPLACEMENT CHARACTER}" not in found
    )


def _is_trace(found: object) -> bool:
    """Whether it is a trace; an empty one is."""
    if not isinstance(found, dict) or (found and set(found) != set(TRACE_COLUMNS)):
        return False
    columns = list(found.values())
    return (
        all(isinstance(column, list) and _are_numbers(column) for column in columns)
        and len(set(map(len, columns))) <= 1
    )


def _are_numbers(found: Iterable[object]) -> bool:
    # Not so for one that is infinite or none (nan), nor for a whole number too large to count with.
    return all(isinstance(one, (int, float)) and abs(one) <= sys.float_info.max for one in found)
