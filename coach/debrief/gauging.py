"""A run's taps against its checkpoints, in the student's own seconds, and its score.

A run is kept on the flight's clock. At half pace one of its seconds takes the student two: judged
there, errors would look half as large as they are. So all timing is judged in own seconds, which
are the flight's divided by the pace; only what an error means in the airplane uses the flight's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from coach.debrief.answers import NOW_S
from coach.flight.moment import Moment
from coach.logbook.past import Line
from coach.logbook.run import Run, Score
from coach.taps.tap import Tap
from coach.taps.timing import Timing, distinct, gauge

ON_TIME_S = 0.25
"""A smaller error counts as on time.

At 8 degrees a second, the quickest turn of a lazy eight, it is 2 degrees of heading, a fifth of the
10 degrees that FAA-S-ACS-7 (task V.D) allows; and a finger answering a sound needs about 0.2 s
(common practice, no source).
"""

FEW_TAPS = 3
"""With so few taps a mean or a spread is chance."""

Summary = Line | Run
"""A run as its score tells it: a line of the logbook, or a whole run."""


@dataclass(frozen=True)
class Gauged:
    """A run's taps matched with the checkpoints it got to; own seconds throughout.

    Attributes:
        moments: the checkpoints it got to.
        planned_s: when they were due.
        taps: what counts as "now": a key's bounces taken for one, and a number only near a
            checkpoint that was not tapped otherwise.
        timing: the match of the two, by index. Only keys pressed without a number are extra taps.
    """

    moments: tuple[Moment, ...]
    planned_s: tuple[float, ...]
    taps: tuple[Tap, ...]
    timing: Timing


def own_taps(run: Run) -> tuple[Tap, ...]:
    """Everything the student did, in time, in own seconds."""
    taps = [replace(tap, time_s=tap.time_s / run.pace) for tap in run.taps]
    return tuple(sorted(taps, key=lambda tap: tap.time_s))


def reached(run: Run) -> tuple[Moment, ...]:
    """The checkpoints a run got to: all if it was finished, else those before its end."""
    if run.ended == "finished":
        return run.moments
    return tuple(moment for moment in run.moments if moment.time_s <= run.reached_s)


def gauged(run: Run) -> Gauged:
    """Match a run's taps with the checkpoints it got to."""
    moments = reached(run)
    planned = tuple(moment.time_s / run.pace for moment in moments)
    done = own_taps(run)
    plain = [tap for tap in done if tap.value is None]
    untapped = gauge(planned, distinct([tap.time_s for tap in plain])).missed
    numbers = [
        tap
        for tap in done
        if tap.value is not None
        and any(abs(tap.time_s - planned[index]) <= NOW_S for index in untapped)
    ]
    now = {tap.time_s: tap for tap in [*numbers, *plain]}
    taps = tuple(now[time] for time in distinct(tuple(now)))
    timing = gauge(planned, [tap.time_s for tap in taps])
    pressed = tuple(
        index for index in timing.extra if taps[index].value is None and taps[index].how == "key"
    )
    return Gauged(moments, planned, taps, replace(timing, extra=pressed))


def score(run: Run) -> Score:
    """A run in a few numbers, for the logbook to keep beside it."""
    timing = gauged(run).timing
    return Score(
        checkpoints=len(timing.pairs) + len(timing.missed),
        tapped=len(timing.pairs),
        on_time=sum(abs(error) <= ON_TIME_S for error in timing.errors_s),
        absolute_error_s=timing.absolute_error_s,
    )


def scored(run: Summary) -> Score | None:
    """The score that is kept of a run, or that of a whole run not judged yet."""
    return score(run) if run.score is None and isinstance(run, Run) else run.score


def pace_words(pace: float) -> str:
    """``"at full pace"``, ``"at half pace"``, ``"at pace 0.75"``."""
    return {1.0: "at full pace", 0.5: "at half pace"}.get(pace, f"at pace {pace:g}")
