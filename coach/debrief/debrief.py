"""A run judged: its checkpoints, its timing, and the one thing to work on next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from coach.debrief.advice import next_step
from coach.debrief.gauging import Summary, gauged
from coach.debrief.governing import not_counted
from coach.debrief.hand import Hand
from coach.debrief.hesitation import Hesitation, hesitation
from coach.debrief.largest import largest
from coach.debrief.next_run import NextRun, next_run
from coach.debrief.perceived import perceived
from coach.debrief.plain import plain, summary, tones
from coach.debrief.readiness import Readiness, readiness
from coach.debrief.trend import Trend, trend
from coach.debrief.verdict import Verdict
from coach.logbook.run import Run, Score
from coach.script.standards import Checkride, Standard, not_asked, told
from coach.taps.tap import Tap
from coach.taps.timing import Timing, by
from coach.words import CAUTION


@dataclass(frozen=True)
class Debrief:
    """What there is to learn from a run; times in the student's own seconds.

    Attributes:
        run: the run.
        taps: what counts as "now", as `timing` counts through it.
        verdicts: the checkpoints it got to, in order.
        timing: the match of `taps` with `verdicts`, by index.
        score: the run in a few numbers.
        summary: the timing of taps in motor learning's words, a sentence; "" of a hand alone.
        plain: how it went in plain words, a sentence.
        hand: what the hand did in all of it; None where none was seen.
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
    hand: Hand | None
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
                asdict(verdict)
                | {
                    "meaning": verdict.meaning,
                    "hesitation_s": verdict.hesitation_s,
                    "flown": verdict.flown and verdict.flown.to_dict(),
                }
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
            "hand": self.hand and self.hand.to_dict(),
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
    found = gauged(run)
    run = replace(run, score=found.score)  # so that it is not judged again
    recent = [run, *before]
    timing = found.timing
    judged = found.verdicts
    coming = next_run(recent)
    return Debrief(
        run=run,
        taps=found.taps,
        verdicts=judged,
        timing=timing,
        score=found.score,
        summary=summary(timing) if found.taps or not found.hand else "",
        plain=plain(run, judged, timing, before),
        hand=found.hand,
        perceived=perceived(judged),
        tones=tones(found.reactions),
        hesitation=hesitation(judged),
        largest=largest(judged, found.hand) if found.score.tapped else (),
        next=next_step(run, found, None if led else coming),
        next_run=coming,
        trend=trend(recent),
        readiness=readiness(recent, run.started.date()),
        not_counted=not_counted(run),
        standards=standards,
        not_asked=not_asked(standards, checkride),
    )


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _rounded(one) for name, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(one) for one in value]
    return round(value, 3) if isinstance(value, float) else value
