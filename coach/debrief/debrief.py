"""A run judged: its checkpoints, its timing, and the one thing to work on next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from coach.debrief import limits
from coach.debrief.advice import next_step
from coach.debrief.gauging import (
    FEW_TAPS,
    ON_TIME_S,
    REACTION_S,
    SAID_ON_TIME_S,
    Summary,
    gauged,
    pace_words,
    reached,
)
from coach.debrief.governing import not_counted, tells
from coach.debrief.hesitation import Hesitation, hesitation
from coach.debrief.largest import largest
from coach.debrief.next_run import NextRun, next_run
from coach.debrief.perceived import perceived
from coach.debrief.readiness import Readiness, readiness
from coach.debrief.trend import Trend, trend
from coach.debrief.verdict import Verdict, Word
from coach.logbook.run import Run, Score
from coach.script.standards import Checkride, Standard, not_asked, told
from coach.taps.tap import Tap
from coach.taps.timing import Timing, by
from coach.words import CAUTION, counted

NO_CHANGE_S = 0.05
"""A smaller change of the absolute error from run to run is none (common practice, no source)."""


@dataclass(frozen=True)
class Debrief:
    """What there is to learn from a run; times in the student's own seconds.

    Attributes:
        run: the run.
        taps: what counts as "now", as `timing` counts through it.
        verdicts: the checkpoints it got to, in order.
        timing: the match of `taps` with `verdicts`, by index.
        score: the run in a few numbers.
        summary: the timing in motor learning's words, a sentence.
        plain: how it went in plain words, a sentence.
        perceived: how much was not perceived and what helps, a sentence; "" where nothing was lost.
        tones: that taps may have answered the coach's tone and weigh less, a sentence; or "".
        hesitation: how long the answers took; None where no question was answered aloud.
        largest: the largest errors, the largest first, each in words.
        next: the one thing to work on next, a sentence.
        next_run: how much the coach says then, and how fast.
        trend: the last runs that govern, the latest last.
        readiness: of the maneuver, on the day of this run.
        not_counted: that this run does not govern, and why; "" where it does.
        standards: what the maneuver is judged by at the student's checkride.
        not_asked: that this checkride does not ask for it, a sentence; see there.
    """

    run: Run
    taps: tuple[Tap, ...]
    verdicts: tuple[Verdict, ...]
    timing: Timing
    score: Score
    summary: str
    plain: str
    perceived: str
    tones: str
    hesitation: Hesitation | None
    largest: tuple[str, ...]
    next: str
    next_run: NextRun
    trend: Trend
    readiness: Readiness
    not_counted: str = ""
    standards: tuple[Standard, ...] = ()
    not_asked: str = ""

    @property
    def legs(self) -> dict[str, Timing]:
        """The same match for each leg alone, by the checkpoint it leads to, all loops together."""
        return by(
            [verdict.name for verdict in self.verdicts],
            [verdict.planned_s for verdict in self.verdicts],
            [tap.time_s for tap in self.taps],
            self.timing,
        )

    def to_dict(self) -> dict[str, Any]:
        """The debrief as JSON values, own seconds to the millisecond unless a name says flight."""
        run, timing = self.run, self.timing
        values: dict[str, Any] = {
            "run": {
                "id": run.id,
                "student": run.student,
                "room": run.room,
                "maneuver": run.maneuver,
                "title": run.title,
                "airplane": run.airplane,
                "day": run.day,
                "started": run.started.isoformat(),
                "pace": run.pace,
                "support": run.support,
                "ended": run.ended,
                "flight_reached_s": run.reached_s,
                "reached_s": run.reached_s / run.pace,
                "checkpoints_planned": len(run.moments),
            },
            "checkpoints": [
                asdict(verdict) | {"meaning": verdict.meaning, "hesitation_s": verdict.hesitation_s}
                for verdict in self.verdicts
            ],
            "timing": {
                "constant_error_s": timing.constant_error_s,
                "variable_error_s": timing.variable_error_s,
                "absolute_error_s": timing.absolute_error_s,
                "tempo": timing.tempo,
                "tapped": len(timing.pairs),
                "answered": sum(verdict.answered for verdict in self.verdicts),
                "missed": len(timing.missed),
                "extra_taps_s": [self.taps[index].time_s for index in timing.extra],
            },
            "legs": {
                name: {
                    "constant_error_s": leg.constant_error_s,
                    "variable_error_s": leg.variable_error_s,
                    "absolute_error_s": leg.absolute_error_s,
                    "tapped": len(leg.pairs),
                    "missed": len(leg.missed),
                }
                for name, leg in self.legs.items()
            },
            "hesitation": asdict(self.hesitation) if self.hesitation else None,
            "score": asdict(self.score),
            "summary": self.summary,
            "plain": self.plain,
            "perceived": self.perceived,
            "tones": self.tones,
            "largest": self.largest,
            "next": self.next,
            "next_run": asdict(self.next_run),
            "trend": asdict(self.trend),
            "readiness": asdict(self.readiness),
            "not_counted": self.not_counted,
            "standards": told(self.standards),
            "not_asked": self.not_asked,
            "caution": CAUTION,
        }
        rounded: dict[str, Any] = _rounded(values)
        return rounded


def debrief(
    run: Run,
    earlier: Sequence[Summary] = (),
    *,
    led: bool = False,
    standards: tuple[Standard, ...] = (),
    checkride: Checkride | None = None,
) -> Debrief:
    """Judge a run by the checkpoints it got to.

    Args:
        run: the run.
        earlier: the student's runs of the same maneuver before it, newest first, to compare it
            with; those that are not before it are left out.
        led: whether an instructor decides how the next run is flown, and not the student.
        standards: what the maneuver is judged by; see `coach.script.catalog.standards`.
        checkride: the student's; None where that is not known.
    """
    before = [other for other in earlier if other.started < run.started]
    recent = [run, *before]
    found = gauged(run)
    timing = found.timing
    judged = found.verdicts
    coming = next_run(recent)
    return Debrief(
        run=run,
        taps=found.taps,
        verdicts=judged,
        timing=timing,
        score=found.score,
        summary=_summary(timing),
        plain=_plain(run, judged, timing) + _compared(run, timing, before) + ".",
        perceived=perceived(judged),
        tones=_tones(found.reactions),
        hesitation=hesitation(judged),
        largest=largest(judged) if found.score.tapped else (),
        next=next_step(run, found, None if led else coming),
        next_run=coming,
        trend=trend(recent),
        readiness=readiness(recent, run.started.date()),
        not_counted=not_counted(run),
        standards=standards,
        not_asked=not_asked(standards, checkride),
    )


def _summary(timing: Timing) -> str:
    counts = f"{len(timing.missed)} missed, {len(timing.extra)} extra"
    if len(timing.pairs) <= FEW_TAPS:
        taps = counted(len(timing.pairs), "tap")
        return f"{taps} matched, {counts}: too few for a bias, a spread or a tempo."
    assert timing.variable_error_s is not None
    return (
        f"Constant error {timing.constant_error_s:+.2f} s, variable error "
        f"{timing.variable_error_s:.2f} s, absolute error {timing.absolute_error_s:.2f} s, tempo "
        f"{timing.tempo:.2f}; {counts}."
    )


def _plain(run: Run, judged: Sequence[Verdict], timing: Timing) -> str:
    if not judged:
        return "The run ended before the first checkpoint"
    words = "" if run.pace == 1.0 else f"{pace_words(run.pace).capitalize()}, "
    words += "; ".join(_counts(run, judged, timing))
    if len(timing.pairs) > FEW_TAPS:
        words += f"; {timing.absolute_error_s:.1f} s off on average"
    return words


def _counts(run: Run, judged: Sequence[Verdict], timing: Timing) -> Iterator[str]:
    """How many checkpoints were tapped, answered and so on, and how."""
    of = f"of {counted(len(judged), 'checkpoint')}"
    answered = [verdict for verdict in judged if verdict.answered]
    if timing.pairs or not answered:
        voiced = sum(verdict.how == "voice" for verdict in judged)
        called = 0 < voiced == len(timing.pairs)
        some = f", {voiced} of them by voice" if voiced and not called else ""
        done = f"{len(timing.pairs)} {of} {'called' if called else 'tapped'}{some}"
        yield done + _when(run, judged)
    if answered:
        late = sum(verdict.word == "late" for verdict in answered)
        yield f"{len(answered)} {of} answered" + (f", {late} of them late" if late else "")
    if misnamed := sum(len(verdict.misnamed) for verdict in judged):
        yield f"{counted(misnamed, 'name')} out of order"
    if timing.extra:
        yield f"{counted(len(timing.extra), 'tap')} too many"
    if numbers := sum(len(verdict.answers) for verdict in judged):
        right = numbers - sum(len(verdict.wrong) for verdict in judged)
        yield f"{right} of {counted(numbers, 'number')} right"


def _when(run: Run, judged: Sequence[Verdict]) -> str:
    """``": 12 on time (within 0.25 s), 1 early"``; "" for none."""
    tapped = [verdict for verdict in judged if verdict.how]
    if not tapped:
        return ""
    voiced = sum(verdict.how == "voice" for verdict in tapped)
    within = [f"{ON_TIME_S:g} s"] if voiced < len(tapped) else []
    within += [f"{SAID_ON_TIME_S:g} s by voice"] if voiced else []
    standard = limits.words(run, reached(run))
    allowed = f"within {', '.join(within)}{standard and '; '}{standard}"
    count = Counter(verdict.word for verdict in tapped)
    words = f": {count['on time']} on time ({allowed})"
    others: tuple[Word, ...] = ("early", "late", "wrong")
    return words + "".join(f", {count[one]} {one}" for one in others if count[one])


def _tones(reactions: int) -> str:
    """That taps may have answered the coach's own tone; "" for so few that it changes nothing."""
    if reactions < 2:
        return ""
    return f"{reactions} came {REACTION_S:g} s after it or later, as reactions do: 2 count as 1."


def _compared(run: Run, timing: Timing, before: Sequence[Summary]) -> str:
    """How this run's absolute error stands to that of the last comparable one."""
    if len(timing.pairs) <= FEW_TAPS or not tells(run):
        return ""
    for other in before:
        last = tells(other)
        if other.pace != run.pace or not last or last.tapped <= FEW_TAPS:
            continue
        if last.absolute_error_s is None or timing.absolute_error_s is None:
            continue
        change = timing.absolute_error_s - last.absolute_error_s
        if abs(change) < NO_CHANGE_S:
            return ", as close as the time before"
        return f", {abs(change):.1f} s {'closer' if change < 0 else 'further'} than the time before"
    return ""


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _rounded(one) for name, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(one) for one in value]
    return round(value, 3) if isinstance(value, float) else value
