"""How a run went, in one plain sentence and in a few figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from coach.debrief import limits
from coach.debrief.gauging import (
    FEW_TAPS,
    REACTION_S,
    SAID_ON_TIME_S,
    Summary,
    pace_words,
    reached,
)
from coach.debrief.governing import tells
from coach.debrief.verdict import Verdict
from coach.logbook.run import Run
from coach.taps.timing import Timing
from coach.words import counted, listed

NO_CHANGE_S = 0.05
"""A smaller change of the absolute error from run to run is none (common practice, no source)."""


def summary(timing: Timing) -> str:
    """The timing of taps in motor learning's words, a sentence."""
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


def plain(run: Run, judged: Sequence[Verdict], timing: Timing, before: Sequence[Summary]) -> str:
    """How it went in plain words, a sentence.

    Args:
        run: the run.
        judged: its verdicts.
        timing: of its taps.
        before: the student's runs of the same maneuver before it, newest first.
    """
    if not judged:
        return "The run ended before the first checkpoint."
    words = "" if run.pace == 1.0 else f"{pace_words(run.pace).capitalize()}, "
    words += "; ".join(_counts(run, judged, timing))
    if len(timing.pairs) > FEW_TAPS:
        joint = "," if any(verdict.flown for verdict in judged) else ";"
        words += f"{joint} {timing.absolute_error_s:.1f} s off on average"
    return f"{words}{_compared(run, timing, before)}."


def _counts(run: Run, judged: Sequence[Verdict], timing: Timing) -> Iterator[str]:
    """How many checkpoints were tapped, answered and so on, and how."""
    of = f"of {counted(len(judged), 'checkpoint')}"
    answered = [verdict for verdict in judged if verdict.answered]
    flown = [verdict for verdict in judged if verdict.flown]
    if flown:
        yield f"{len(flown)} {of} flown{_within(run, flown)}"
        of = f"of {len(judged)}"
    if timing.pairs or not (answered or flown):
        voiced = sum(verdict.how == "voice" for verdict in judged)
        called = 0 < voiced == len(timing.pairs)
        some = f", {voiced} of them by voice" if voiced and not called else ""
        done = f"{len(timing.pairs)} {of} {'called' if called else 'tapped'}{some}"
        yield done + (_off(judged) if flown else _when(run, judged))
    if answered:
        late = sum(verdict.timed == "late" for verdict in answered)
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
    within = [f"{limits.ON_TIME_S:g} s"] if voiced < len(tapped) else []
    within += [f"{SAID_ON_TIME_S:g} s by voice"] if voiced else []
    standard = limits.words(run, reached(run))
    allowed = f"within {', '.join(within)}{standard and '; '}{standard}"
    return _words([verdict.word for verdict in tapped], allowed)


def _off(judged: Sequence[Verdict]) -> str:
    """``", 1 early, 2 late"`` of taps beside a hand, which is what is judged."""
    count = Counter(verdict.timed for verdict in judged if verdict.how)
    return "".join(f", {count[one]} {one}" for one in ("early", "late") if count[one])


def _within(run: Run, flown: Sequence[Verdict]) -> str:
    """The same of what the hand flew."""
    names = {verdict.name for verdict in flown}
    allowed = [limits.limit(run.tolerances, name, of) for name in names for of in ("bank", "pitch")]
    sizes = list(dict.fromkeys(one.words for one in allowed))
    within = f"within {listed(sizes)}" if len(sizes) == 2 else "within the standard"
    return _words([verdict.flown.word for verdict in flown if verdict.flown], within)


def _words(found: Sequence[str], allowed: str) -> str:
    count = Counter(found)
    others = "".join(f", {count[one]} {one}" for one in ("early", "late", "wrong") if count[one])
    return f": {count['on time']} on time ({allowed}){others}"


def tones(reactions: int) -> str:
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
