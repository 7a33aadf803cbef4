"""A run's taps against its checkpoints, in the student's own seconds, and its score.

A run is kept on the flight's clock. At half pace one of its seconds takes the student two: judged
there, errors would look half as large as they are. So all timing is judged in own seconds, which
are the flight's divided by the pace; only what an error means in the airplane uses the flight's.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from coach.debrief.answers import NOW_S, answers, given, place
from coach.debrief.verdict import Verdict, Word
from coach.flight.moment import Moment
from coach.logbook.run import LoggedRun, Run, Score
from coach.taps.tap import UNCLEAR, Tap
from coach.taps.timing import ROUNDING_S, WINDOW_S, Timing, distinct, gauge, paired

ON_TIME_S = 0.25
"""A smaller error counts as on time.

At 8 degrees a second, the quickest turn of a lazy eight, it is 2 degrees of heading, a fifth of the
10 degrees that FAA-S-ACS-7 (task V.D) allows; and a finger answering a sound needs about 0.2 s
(common practice, no source).
"""

SAID_ON_TIME_S = 0.6
"""The same for a name that is said: the coach's ears find the beginning of a word to within 0.35 s,
95 times in 100 (`python -m tests.bench.ears accuracy`, in quiet)."""

FEW_TAPS = 3
"""With so few taps a mean or a spread is chance."""

Summary = LoggedRun | Run
"""A run as its score tells it: a line of the logbook, or a whole run."""


@dataclass(frozen=True)
class Gauged:
    """What a student did about the checkpoints a run got to; own seconds throughout.

    A checkpoint is done by a key, else by its name, else by a number close to it, else by answering
    its question.

    Attributes:
        verdicts: on the checkpoints it got to, in time.
        taps: what counts as "now": a key's bounces taken for one, a name only at its checkpoint,
            and a number only near a checkpoint that was not tapped otherwise.
        timing: the match of the two, by index. Only keys pressed without a number are extra taps,
            and a checkpoint whose question was answered, or that is unclear, is not missed.
    """

    verdicts: tuple[Verdict, ...]
    taps: tuple[Tap, ...]
    timing: Timing

    @property
    def score(self) -> Score:
        """The run in a few numbers, for the logbook to keep beside it.

        Each tap too many takes one from those on time: whoever hammers the key hits every
        checkpoint.
        """
        words = [verdict.word for verdict in self.verdicts]
        on_time = sum(verdict.counts for verdict in self.verdicts)
        return Score(
            checkpoints=sum(word != "unclear" for word in words),
            tapped=sum(word not in ("unclear", "missed") for word in words),
            on_time=max(0, on_time - len(self.timing.extra)),
            absolute_error_s=self.timing.absolute_error_s,
        )


def own_taps(run: Run) -> tuple[Tap, ...]:
    """Everything the student did, in time, in own seconds."""
    taps = [replace(tap, time_s=tap.time_s / run.pace) for tap in run.taps]
    return tuple(sorted(taps, key=lambda tap: tap.time_s))


def reached(run: Run) -> tuple[Moment, ...]:
    """The checkpoints a run got to: all if it was finished, else those before its end.

    A student who does nothing but answer is not asked about those whose question had no room.
    """
    moments = run.moments
    if run.ended != "finished":
        moments = tuple(moment for moment in moments if moment.time_s <= run.reached_s)
    answering = any(tap.hesitation_s is not None for tap in run.taps)
    if answering and all(tap.value is not None or tap.said == UNCLEAR for tap in run.taps):
        moments = tuple(moment for moment in moments if moment.asks)
    return moments


def gauged(run: Run) -> Gauged:
    """Match what a student did with the checkpoints the run got to."""
    moments = reached(run)
    planned = tuple(moment.time_s / run.pace for moment in moments)
    done = own_taps(run)
    numbers = given(planned, done)
    plain = [tap for tap in done if tap.value is None and tap.said is None]
    apart = {tap.time_s: tap for tap in plain}
    pressed = [apart[time] for time in distinct(tuple(apart))]
    tapped, misnamed = _named(moments, planned, done)
    for checkpoint, press in gauge(planned, [tap.time_s for tap in pressed]).pairs:
        tapped[checkpoint] = pressed[press]
    tapped |= _numbered(planned, done, tapped)
    taps = tuple(sorted({*pressed, *tapped.values()}, key=lambda tap: tap.time_s))
    place_of = {tap: index for index, tap in enumerate(taps)}
    pairs = sorted((checkpoint, place_of[tap]) for checkpoint, tap in tapped.items())
    timing = paired(planned, [tap.time_s for tap in taps], pairs)
    unclear = _unclear(planned, done)
    verdicts = tuple(
        Verdict(
            loop=moment.loop,
            name=moment.name,
            flight_s=moment.time_s,
            planned_s=at,
            word=_word(at, tapped.get(index), numbers[index], unclear=index in unclear),
            answers=answers(moment, numbers[index]),
            misnamed=misnamed[index],
            **_tapped(run, moment, tapped.get(index)),
        )
        for index, (moment, at) in enumerate(zip(moments, planned, strict=True))
    )
    missed = (index for index, verdict in enumerate(verdicts) if verdict.word == "missed")
    extra = (index for index in timing.extra if taps[index].how == "key")
    return Gauged(verdicts, taps, replace(timing, missed=tuple(missed), extra=tuple(extra)))


def _named(
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


def _numbered(
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


def _unclear(planned: Sequence[float], done: Sequence[Tap]) -> set[int]:
    """Where something was said and not understood."""
    found = set()
    for tap in done:
        if tap.said != UNCLEAR:
            continue
        if tap.hesitation_s is not None:
            found.add(place(planned, tap.time_s, tap.hesitation_s))
            continue
        away = _within(planned, tap.time_s, WINDOW_S)
        found |= {index for index in away if away[index] == min(away.values())}
    return found


def _word(at: float, tap: Tap | None, numbers: Sequence[Tap], *, unclear: bool) -> Word:
    if tap is not None:
        error = tap.time_s - at
        if abs(error) <= (ON_TIME_S if tap.how == "key" else SAID_ON_TIME_S):
            return "on time"
        return "early" if error < 0.0 else "late"
    answered = [number.time_s for number in numbers if number.hesitation_s is not None]
    if answered:
        return "on time" if answered[0] <= at else "late"
    return "unclear" if unclear else "missed"


def _tapped(run: Run, moment: Moment, tap: Tap | None) -> dict[str, Any]:
    """What a verdict says about its tap."""
    if tap is None:
        return {}
    error = tap.time_s - moment.time_s / run.pace
    speed = None
    if run.trace.get("t_s"):
        speed = _speed_kt(run, tap.time_s * run.pace) - _speed_kt(run, moment.time_s)
    return {
        "tapped_s": tap.time_s,
        "how": tap.how,
        "error_s": error,
        "heading_deg": error * run.pace * abs(moment.turn_rate_dps),
        "speed_kt": speed,
    }


def _speed_kt(run: Run, flight_s: float) -> float:
    """Between the trace's rows on a line, before and after them as at the nearest."""
    times, speeds = run.trace["t_s"], run.trace["ias_kt"]
    after = bisect_right(times, flight_s)
    if after in (0, len(times)):
        return speeds[min(after, len(times) - 1)]
    before = after - 1
    slope = (speeds[after] - speeds[before]) / (times[after] - times[before])
    return speeds[before] + slope * (flight_s - times[before])


def score(run: Run) -> Score:
    """A run's score, judged anew."""
    return gauged(run).score


def scored(run: Summary) -> Score | None:
    """The score that is kept of a run, or that of a whole run not judged yet."""
    return score(run) if run.score is None and isinstance(run, Run) else run.score


def pace_words(pace: float) -> str:
    """``"at full pace"``, ``"at half pace"``, ``"at pace 0.75"``."""
    return {1.0: "at full pace", 0.5: "at half pace"}.get(pace, f"at pace {pace:g}")
