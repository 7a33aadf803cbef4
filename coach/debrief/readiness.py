"""Whether a maneuver is ready: the share of checkpoints on time, and how sure that is.

From the last `LAST_RUNS` runs with little support of those that govern (`coach.debrief.governing`):

- How much a run counts is in the table of support: fully with nothing but the start; half with the
  coach asking or tones only, for a tone sounds on each checkpoint, and a tap can answer that
  instead of the airplane; not at all where the coach names the checkpoints or says everything. What
  was flown by hand answers no tone: those checkpoints of a run that counts in half count fully.
- What a run counts halves with every `HALF_LIFE_DAYS` since.
- The share is p = sum(w on time) / sum(w checkpoints), w being what a run counts.
- Taps of one run are alike: on a good day all are better. Runs spread more than single taps would,
  by a factor of 1 + (n - 1) r, where n is the mean number of checkpoints in a run and r = `ALIKE`
  is assumed; or by Pearson's chi-square over its degrees of freedom, where the runs themselves show
  more. Both are the design effect of cluster sampling (L. Kish, Survey Sampling, from memory).
- So there are N = sum(w checkpoints) / that factor checkpoints' worth of evidence, and the interval
  is E. B. Wilson's for a share (J. American Statistical Association 22 (1927) 209-212, from memory)
  with p and N, at nine in ten.

It is ready when the low end is at least `READY` and one of these runs counts fully;
nearly ready when the share is that of a good run; and nothing is said with fewer than `LEAST_RUNS`
runs or `LEAST` checkpoints' worth (by the factor that is assumed).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from coach.callouts.support import SUPPORTS
from coach.debrief.gauging import Summary
from coach.debrief.governing import governs
from coach.debrief.next_run import GOOD
from coach.logbook.run import Score
from coach.words import counted, listed

LAST_RUNS, LEAST_RUNS, LEAST = 5, 2, 6.0
HALF_LIFE_DAYS = 30.0
ALIKE = 0.1
READY = 0.75
"""All of these are guesses of ours, to be put right when students' checkrides are known."""

NINE_IN_TEN = 1.6449
"""The normal distribution's 95 % point: one in twenty lies beyond it on either side."""


@dataclass(frozen=True)
class Readiness:
    """Whether a maneuver is ready.

    Attributes:
        verdict: in one or two words.
        runs: how many runs it rests on.
        share: of the checkpoints on time, 0 to 1; None with too few runs, as are the next two.
        low: the interval's low end.
        high: its high end.
        sentence: all of that in words.
    """

    verdict: Literal["ready", "nearly", "not yet", "too few runs"]
    runs: int
    share: float | None
    low: float | None
    high: float | None
    sentence: str


def readiness(recent: Iterable[Summary], today: date) -> Readiness:
    """Judge a maneuver by the formula above.

    Args:
        recent: one student's runs of it, newest first.
        today: the student's own date.
    """
    used = [(run, score) for run in recent if counting(run.support) and (score := governs(run))][
        :LAST_RUNS
    ]
    weights = [
        _weight(run, score) * 0.5 ** (max(0, (today - run.started.date()).days) / HALF_LIFE_DAYS)
        for run, score in used
    ]
    scores = [score for _, score in used]
    flown = _weighed(weights, [score.checkpoints for score in scores])
    if len(used) < LEAST_RUNS or flown / assumed_effect(scores) < LEAST:
        return Readiness("too few runs", len(used), None, None, None, _too_few(used, today))
    share = _weighed(weights, [score.on_time for score in scores]) / flown
    low, high = interval(share, flown / design_effect(scores))
    alone = any(counting(run.support) == 1.0 for run, _ in used)
    verdict: Literal["ready", "nearly", "not yet"] = "not yet"
    if share >= GOOD:
        verdict = "ready" if low >= READY and alone else "nearly"
    sentence = (
        f"{verdict.capitalize()}: about {_fives(share)} % on time ({_fives(low)} to {_fives(high)} "
        f"%) in the last {len(used)} runs at full pace with little support"
        f"{'' if alone else f', none of them with {_levels(1.0)}'}."
    )
    return Readiness(verdict, len(used), share, low, high, sentence)


def counting(support: str) -> float:
    """How much a run with this support counts, 0 to 1."""
    return SUPPORTS[support].counts if support in SUPPORTS else 0.0


def _weight(run: Summary, score: Score) -> float:
    """The same with what the hand flew in it counted fully."""
    counts = counting(run.support)
    return counts + (1.0 - counts) * score.flown / score.checkpoints


def design_effect(scores: Sequence[Score]) -> float:
    """How many taps of these runs are worth a single one: as assumed, or as they show if more."""
    assumed = assumed_effect(scores)
    flown = sum(score.checkpoints for score in scores)
    share = sum(score.on_time for score in scores) / flown
    if len(scores) < 2 or share in (0.0, 1.0):
        return assumed
    squares = (
        (score.on_time - share * score.checkpoints) ** 2 / (score.checkpoints * share * (1 - share))
        for score in scores
    )
    return max(assumed, math.fsum(squares) / (len(scores) - 1))


def assumed_effect(scores: Sequence[Score]) -> float:
    """How many taps of runs of this length are assumed to be worth a single one."""
    return 1.0 + (statistics.fmean(score.checkpoints for score in scores) - 1.0) * ALIKE


def interval(share: float, evidence: float) -> tuple[float, float]:
    """Wilson's interval at nine in ten.

    Args:
        share: the share found, 0 to 1.
        evidence: of how many independent cases, above 0.
    """
    square = NINE_IN_TEN**2
    middle = share + square / (2.0 * evidence)
    half = NINE_IN_TEN * math.sqrt(share * (1.0 - share) / evidence + square / (4.0 * evidence**2))
    whole = 1.0 + square / evidence
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


def _weighed(weights: Sequence[float], numbers: Sequence[float]) -> float:
    return math.fsum(weight * number for weight, number in zip(weights, numbers, strict=True))


def _too_few(used: Sequence[tuple[Summary, Score]], today: date) -> str:
    kind = f"at full pace with little support ({_levels()})"
    if not used:
        return f"Too few runs to say: none yet {kind}."
    there = counted(len(used), "run")
    days = (today - used[0][0].started.date()).days
    old = f", the last {days} days ago" if days > HALF_LIFE_DAYS else ""
    return f"Too few runs to say: {there} {kind}{old}."


def _levels(least: float = 0.0) -> str:
    """The support with which a run counts, and so much at least."""
    levels = [one for one in SUPPORTS.values() if one.counts and one.counts >= least]
    return listed([one.short for one in levels], "or")


def _fives(share: float) -> int:
    """Percent to the nearest five: more would claim a precision that is not there."""
    return 5 * round(20 * share)
