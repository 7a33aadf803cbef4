"""A run judged: its checkpoints, its timing, and the one thing to work on next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from coach.caution import CAUTION
from coach.debrief.advice import FEW_TAPS, next_step
from coach.debrief.checkpoints import ON_TIME_S, Row, counted, reached, rows
from coach.logbook.run import Run
from coach.taps.timing import Timing, distinct, gauge

NO_CHANGE_S = 0.05
"""A smaller change of the absolute error from run to run is none (common practice, no source)."""


@dataclass(frozen=True)
class Debrief:
    """What there is to learn from a run.

    Attributes:
        run: the run.
        taps_s: its taps, a key's bounces taken for one.
        rows: the checkpoints it got to, in order.
        timing: the match of `taps_s` with `rows`, by index.
        summary: the timing in motor learning's words, a sentence.
        plain: the same in plain words, a sentence.
        next: the one thing to work on next, a sentence.
    """

    run: Run
    taps_s: tuple[float, ...]
    rows: tuple[Row, ...]
    timing: Timing
    summary: str
    plain: str
    next: str

    def to_dict(self) -> dict[str, Any]:
        """The debrief as JSON values, seconds to the millisecond."""
        run, timing = self.run, self.timing
        return {
            "run": {
                "id": run.id,
                "student": run.student,
                "maneuver": run.maneuver,
                "title": run.title,
                "airplane": run.airplane,
                "day": run.day,
                "started": run.started.isoformat(),
                "pace": run.pace,
                "support": run.support,
                "ended": run.ended,
                "reached_s": _rounded(run.reached_s),
                "checkpoints_planned": len(run.moments),
            },
            "checkpoints": [
                {name: _rounded(value) for name, value in asdict(row).items()}
                | {"meaning": row.meaning}
                for row in self.rows
            ],
            "timing": {
                "constant_error_s": _rounded(timing.constant_error_s),
                "variable_error_s": _rounded(timing.variable_error_s),
                "absolute_error_s": _rounded(timing.absolute_error_s),
                "tempo": _rounded(timing.tempo),
                "tapped": len(timing.pairs),
                "missed": len(timing.missed),
                "extra_taps_s": [_rounded(self.taps_s[index]) for index in timing.extra],
            },
            "summary": self.summary,
            "plain": self.plain,
            "next": self.next,
            "caution": CAUTION,
        }


def debrief(run: Run, earlier: Sequence[Run] = ()) -> Debrief:
    """Judge a run by the checkpoints it got to.

    Args:
        run: the run.
        earlier: runs of the same maneuver before it, newest first, to compare it with.
    """
    taps, timing = _gauged(run)
    judged = rows(run, timing, taps)
    return Debrief(
        run=run,
        taps_s=taps,
        rows=judged,
        timing=timing,
        summary=_summary(timing),
        plain=_plain(judged, timing) + _compared(run, timing, earlier) + ".",
        next=next_step(run, judged, timing),
    )


def _gauged(run: Run) -> tuple[tuple[float, ...], Timing]:
    taps = distinct(run.taps_s)
    return taps, gauge([moment.time_s for moment in reached(run)], taps)


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


def _plain(judged: Sequence[Row], timing: Timing) -> str:
    if not judged:
        return "The run ended before the first checkpoint"
    count = {word: sum(row.word == word for row in judged) for word in ("on time", "early", "late")}
    words = f"{len(timing.pairs)} of {counted(len(judged), 'checkpoint')} tapped"
    if timing.pairs:
        words += f": {count['on time']} on time (within {ON_TIME_S:g} s)"
        words += "".join(f", {count[word]} {word}" for word in ("early", "late") if count[word])
    if timing.extra:
        words += f"; {counted(len(timing.extra), 'tap')} too many"
    if len(timing.pairs) > FEW_TAPS:
        words += f"; {timing.absolute_error_s:.1f} s off on average"
    return words


def _compared(run: Run, timing: Timing, earlier: Sequence[Run]) -> str:
    """How this run's absolute error stands to that of the last comparable one."""
    if len(timing.pairs) <= FEW_TAPS:
        return ""
    for other in earlier:
        before = _gauged(other)[1]
        if other.pace != run.pace or len(before.pairs) <= FEW_TAPS:
            continue
        assert before.absolute_error_s is not None and timing.absolute_error_s is not None
        change = timing.absolute_error_s - before.absolute_error_s
        if abs(change) < NO_CHANGE_S:
            return ", as close as the time before"
        return f", {abs(change):.1f} s {'closer' if change < 0 else 'further'} than the time before"
    return ""


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value
