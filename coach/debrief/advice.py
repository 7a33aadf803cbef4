"""The one thing to work on next, chosen in a fixed order.

1. No checkpoint reached, or no tap at all: say what to do.
2. Three taps or fewer matched: too little to say more.
3. Scattered: the taps do not follow the maneuver, even allowing for bias and tempo, or many
   checkpoints are missed while as many taps belong to none.
4. Many missed: those checkpoints, by name.
5. The same number wrong more than once: it, by name.
6. Rushing or dragging: the tempo is off, and by more than chance.
7. Early or late everywhere: a bias beyond the ordinary, and the larger part of the error.
8. The checkpoint with the largest absolute error, where that is more than on time.
9. Any missed: it, by name.
10. Any number wrong: it, by name.
11. Else it is good, and there is a next step.

Seconds are the student's own.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Iterable, Sequence

from coach.callouts.support import SUPPORTS, support_words
from coach.debrief.gauging import FEW_TAPS, ON_TIME_S, pace_words
from coach.debrief.next_run import NextRun
from coach.debrief.verdict import Verdict, by_name, in_the_airplane
from coach.logbook.run import Run
from coach.taps.timing import WINDOW_S, Timing
from coach.words import counted, listed

SCATTERED_S = 1.0
"""A spread that no leg of 6 s can be learned from: a third of its taps are off by more."""

MANY_MISSED = 0.2
"""A share of the checkpoints: one of every loop's four or five is a habit, not a slip."""

WRONG_AGAIN = 2
"""The same number wrong so often is not known; once may be a slip of the finger."""

TEMPO_OFF = 0.02
"""Two hundredths add up to 0.7 s over a loop of 33 s."""

BIAS_S = 0.15
"""Tapping along comes a few tens of milliseconds early on average (B. H. Repp, Psychonomic Bulletin
& Review 12 (2005) 969-992), and keyboard and sound may add as much again (common practice, no
source); below this a bias says nothing about the student."""


def next_step(
    run: Run, verdicts: Sequence[Verdict], timing: Timing, next_run: NextRun | None
) -> str:
    """The one thing to work on next, as one sentence.

    Args:
        run: the run.
        verdicts: its checkpoints as far as it got.
        timing: the match behind them.
        next_run: how the next run will be flown; None where the student does not choose that, nor
            the loudspeaker, nor when a run ends: in a room, which an instructor leads.
    """
    led = next_run is None
    return (
        _answering(run, verdicts, timing, next_run)
        or _little_to_say(verdicts, timing, led)
        or _scattered(verdicts, timing)
        or _missed(verdicts, at_least=max(1.0, MANY_MISSED * len(verdicts)))
        or _wrong(verdicts, at_least=WRONG_AGAIN)
        or _tempo(timing)
        or _bias(timing, led)
        or _worst(verdicts)
        or _missed(verdicts, at_least=1.0)
        or _wrong(verdicts, at_least=1)
        or _good(run, verdicts, next_run)
    )


def _answering(
    run: Run, verdicts: Sequence[Verdict], timing: Timing, next_run: NextRun | None
) -> str | None:
    """For a student who answers the coach's questions instead of tapping."""
    answered = sum(verdict.answered for verdict in verdicts)
    if not answered or len(timing.pairs) > FEW_TAPS:
        return None
    if answered <= FEW_TAPS and timing.missed:
        return (
            f"Answer every question: {answered} of {len(verdicts)} checkpoints were answered, too "
            "few to say more."
        )
    return (
        _missed(verdicts, at_least=max(1.0, MANY_MISSED * len(verdicts)))
        or _wrong(verdicts, at_least=WRONG_AGAIN)
        or _missed(verdicts, at_least=1.0)
        or _wrong(verdicts, at_least=1)
        or _late(verdicts)
        or _good(run, verdicts, next_run, "Your answers are good")
    )


def _late(verdicts: Sequence[Verdict]) -> str | None:
    late = Counter(
        verdict.name for verdict in verdicts if verdict.answered and verdict.word == "late"
    )
    if not late:
        return None
    (name, times), *_ = late.most_common(1)
    return (
        f"Answer {name} sooner: you began after it had come ({counted(times, 'time')}), so say "
        "its numbers aloud a few times before you fly."
    )


def _little_to_say(verdicts: Sequence[Verdict], timing: Timing, led: bool) -> str | None:
    if not verdicts and led:
        return "Be ready to tap at the first checkpoint: this run ended before it came."
    if not verdicts:
        return "Fly on to the first checkpoint at least, so that there is something to debrief."
    if not timing.pairs and not timing.extra:
        tap = "Tap" if led else "Press the space bar"
        return (
            f"{tap} the moment you reach each checkpoint, where the tone sounds, so that your "
            "timing can be debriefed."
        )
    if len(timing.pairs) > FEW_TAPS:
        return None
    if timing.missed:
        return (
            f"Tap every checkpoint: {len(timing.pairs)} of {len(verdicts)} were tapped "
            f"(within {WINDOW_S:.0f} s), too few to say more."
        )
    few = "is" if len(verdicts) == 1 else "are"
    on = "Tap on in the next run" if led else "Fly on further next time"
    return f"{on}: {counted(len(verdicts), 'checkpoint')} {few} too few to say more."


def _scattered(verdicts: Sequence[Verdict], timing: Timing) -> str | None:
    spread = math.sqrt(statistics.fmean(one * one for one in _residuals(verdicts, timing)))
    astray = min(len(timing.missed), len(timing.extra))
    if spread <= SCATTERED_S and astray < MANY_MISSED * len(verdicts):
        return None
    return (
        "Your taps do not follow the maneuver yet: hear it through once, saying each checkpoint's "
        "name on its tone, and then tap along."
    )


def _missed(verdicts: Sequence[Verdict], at_least: float) -> str | None:
    named = by_name(verdicts)
    missed = {
        name: sum(verdict.word == "missed" for verdict in some) for name, some in named.items()
    }
    if sum(missed.values()) < at_least:
        return None
    worst = sorted((name for name in missed if missed[name]), key=lambda name: -missed[name])[:3]
    words = [
        f"{name} (missed {missed[name]} of {counted(len(named[name]), 'time')})" for name in worst
    ]
    return f"Do not forget {listed(words)}: say its name aloud while you are on the way to it."


def _wrong(verdicts: Sequence[Verdict], at_least: int) -> str | None:
    wrong = [(verdict.name, answer) for verdict in verdicts for answer in verdict.wrong]
    if not wrong:
        return None
    often = Counter((name, answer.asked) for name, answer in wrong)
    (name, asked), times = often.most_common(1)[0]
    if times < at_least:
        return None
    said = next(answer.words for at, answer in wrong if (at, answer.asked) == (name, asked))
    return (
        f"Learn the numbers again: at {name} you said {said} ({counted(times, 'time')}), so read "
        "them in the brief and say them aloud before you fly."
    )


def _tempo(timing: Timing) -> str | None:
    low, high = timing.tempo_low, timing.tempo_high
    assert timing.tempo is not None
    off = timing.tempo - 1.0
    if low is None or high is None or abs(off) < TEMPO_OFF or low <= 1.0 <= high:
        return None
    if off < 0:
        return (
            f"You rush: your tempo is {-100 * off:.0f} % quicker than the airplane's, so count the "
            "seconds of each leg aloud and let the airplane come to you."
        )
    return (
        f"You drag: your tempo is {100 * off:.0f} % slower than the airplane's, so begin the words "
        "of each leg while the tone before it still sounds."
    )


def _bias(timing: Timing, led: bool) -> str | None:
    bias, spread = timing.constant_error_s, timing.variable_error_s
    assert bias is not None and spread is not None
    # The mean squared error is bias squared plus spread squared.
    if abs(bias) < max(BIAS_S, spread):
        return None
    if bias < 0:
        return (
            f"You are {-bias:.1f} s early on the whole, more than the few hundredths everybody is: "
            "wait for the picture of the checkpoint before you tap."
        )
    late = f"You are {bias:.1f} s late on the whole: say what comes next one breath sooner"
    if led:
        return f"{late}."
    return (
        f"{late} (or the sound comes late, as through a wireless headset: `coach calibrate` takes "
        "that off)."
    )


def _worst(verdicts: Sequence[Verdict]) -> str | None:
    tapped = [
        (name, [verdict for verdict in some if verdict.error_s is not None])
        for name, some in by_name(verdicts).items()
    ]
    name, some = max(((name, some) for name, some in tapped if some), key=lambda one: _off(one[1]))
    off = _off(some)
    if off <= ON_TIME_S:
        return None
    mean = statistics.fmean(verdict.error_s or 0.0 for verdict in some)
    # Called early or late only where most of its error goes one way.
    way = "off" if abs(mean) < 0.5 * off else "early" if mean < 0 else "late"
    heading = statistics.fmean(abs(verdict.heading_deg or 0.0) for verdict in some)
    speed = statistics.fmean(abs(verdict.speed_kt or 0.0) for verdict in some)
    return (
        f"Work on the leg to {name}: you are {off:.1f} s {way} there on average, "
        f"which is {in_the_airplane(heading, speed)}."
    )


def _good(
    run: Run,
    verdicts: Sequence[Verdict],
    next_run: NextRun | None,
    good: str = "Your timing is good",
) -> str:
    early = run.ended != "finished" and len(verdicts) < len(run.moments)
    if next_run is None:
        return f"{good}{' as far as you flew' if early else ''}: fly it just as well next time."
    if early:
        return f"{good} as far as you flew: fly it to the end next time."
    if next_run.pace > run.pace:
        return f"{good} at this pace: fly it {pace_words(next_run.pace)} next time."
    if run.support in SUPPORTS and next_run.support != run.support:
        return f"{good}: fly it with {support_words(next_run.support)} next time."
    if run.support in [*SUPPORTS][:-1]:
        return f"{good}: fly it just as well once more, and the coach will say less."
    return (
        f"{good}: change one thing next time, the side you turn to first, the wind or the weight."
    )


def _planned(verdicts: Sequence[Verdict], timing: Timing) -> list[float]:
    return [verdicts[checkpoint].planned_s for checkpoint, _ in timing.pairs]


def _residuals(verdicts: Sequence[Verdict], timing: Timing) -> list[float]:
    """What is left of the errors after bias and tempo are taken out."""
    assert timing.tempo is not None and timing.constant_error_s is not None
    planned = _planned(verdicts, timing)
    middle = statistics.fmean(planned)
    return [
        error - timing.constant_error_s - (timing.tempo - 1.0) * (at - middle)
        for at, error in zip(planned, timing.errors_s, strict=True)
    ]


def _off(some: Iterable[Verdict]) -> float:
    return statistics.fmean(abs(verdict.error_s or 0.0) for verdict in some)
