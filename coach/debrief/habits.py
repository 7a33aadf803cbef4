"""Habits that one error may come of: an instructor speaks of the habit, and not of the error.

A habit is spoken of only where the largest error by the standard is a part of it. Seconds are the
student's own.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping
from typing import Literal

from coach.debrief.error import Error
from coach.debrief.flown import LEVEL_DEG, Angle
from coach.debrief.gauging import FEW_TAPS, Gauged
from coach.debrief.hand import Hand
from coach.hand.tempo import STEADY
from coach.taps.timing import Timing
from coach.words import side_of

SCATTERED_S = 1.0
"""A spread that no leg of 6 s can be learned from: a third of its taps are off by more."""

BEYOND = 1.0 / 3.0
"""Such a spread is one of taps that do not follow the maneuver where so large a share of the
checkpoints is beyond its limits: slow legs bear a second, quick ones do not (a guess of ours)."""

MANY_MISSED = 0.2
"""A share of the checkpoints: one of every loop's four or five is a habit, not a slip."""

TEMPO_OFF = 0.02
"""Two hundredths add up to 0.7 s over a loop of 33 s."""

BIAS_S = 0.15
"""Tapping along comes a few tens of milliseconds early on average (B. H. Repp, Psychonomic Bulletin
& Review 12 (2005) 969-992), and keyboard and sound may add as much again (common practice, no
source); below this a bias says nothing about the student."""

PART = 1.0 / 3.0
"""An error comes of a habit that makes up so large a part of it (a guess of ours)."""

MOSTLY = 0.6
"""A hand that is late by so large a part of an error everywhere is late by habit (a guess of
ours)."""

SIDES_DEG = 4.0
"""Of a smaller difference between left and right turns nobody speaks, nor of one that is less than
twice what chance makes of it (a guess of ours)."""

LITTLE, MUCH = 0.75, 1.25
"""Shares of what belongs: a hand that moves less, or more, wherever it is to move does so by habit
(a guess of ours)."""

Way = Literal["tap", "name", "answer"]

_SCATTERED: Mapping[Way, tuple[str, str]] = {
    "tap": ("taps do", "tap along"),
    "name": ("calls do", "call them yourself"),
    "answer": ("answers do", "answer"),
}


def way(found: Gauged) -> Way:
    """What the student does at most checkpoints of a run."""
    answered = sum(verdict.answered for verdict in found.verdicts)
    voiced = sum(verdict.how == "voice" for verdict in found.verdicts)
    keyed = sum(verdict.how == "key" for verdict in found.verdicts)
    if answered > voiced + keyed:
        return "answer"
    return "name" if voiced > keyed else "tap"


def habit(error: Error, found: Gauged, *, led: bool) -> str | None:
    """What to do about the habit that an error comes of, as one sentence; None for none.

    Args:
        error: the largest one.
        found: the run it is of.
        led: whether an instructor leads the run.
    """
    if error.kind in ("tap", "missed") and _is_scattered(found):
        do, along = _SCATTERED[way(found)]
        return (
            f"Your {do} not follow the maneuver yet: hear it through once, saying each "
            f"checkpoint's name as it comes, and then {along}."
        )
    if error.kind in ("bank", "pitch"):
        return scale(found) or (sides(found) if error.kind == "bank" else None)
    if error.off_s is None:
        return None
    if error.kind == "came":
        return _of_the_hand(error, error.off_s, found.hand) if found.hand else None
    if len(found.timing.pairs) <= FEW_TAPS:
        return None
    by_tempo = trend_s(found.timing, error.verdicts[0].planned_s, found)
    if _makes(by_tempo, error.off_s) and (words := tempo(found.timing)):
        return words
    by_bias = found.timing.constant_error_s or 0.0
    return bias(found.timing, led=led) if _makes(by_bias, error.off_s) else None


def _of_the_hand(error: Error, off_s: float, hand: Hand) -> str | None:
    """The habit of a hand that an error of its timing comes of."""
    if hand.whole is None or hand.tempo != STEADY or len(hand.loops) < 2:
        return None
    lags = {"nose": hand.whole.pitch_lag_s, "bank": hand.whole.bank_lag_s}
    late = {of: lag / hand.pace for of, lag in lags.items() if lag and _makes(lag, off_s, MOSTLY)}
    if not late:
        return None
    mean_s = statistics.fmean(late.values())
    who = "Your hand" if len(late) == 2 else f"Your {next(iter(late))}"
    if mean_s > 0.0:
        return f"{who} is {mean_s:.1f} s late on the whole: begin each change one breath sooner."
    return f"{who} is {-mean_s:.1f} s early on the whole: wait for each word before you move."


def tempo(timing: Timing) -> str | None:
    """What to do about a tempo that is off by more than chance; None where it is not."""
    low, high = timing.tempo_low, timing.tempo_high
    if timing.tempo is None or low is None or high is None:
        return None
    if abs(timing.tempo - 1.0) < TEMPO_OFF or low <= 1.0 <= high:
        return None
    return tempo_words(timing.tempo)


def tempo_words(slope: float) -> str:
    """What to do about an own tempo: flown against planned time, below 1 rushing."""
    off = slope - 1.0
    if off < 0:
        return (
            f"You rush: your tempo is {-100 * off:.0f} % quicker than the airplane's, so count the "
            "seconds of each leg aloud and let the airplane come to you."
        )
    return (
        f"You drag: your tempo is {100 * off:.0f} % slower than the airplane's, so begin the words "
        "of each leg while the tone before it still sounds."
    )


def bias(timing: Timing, *, led: bool) -> str | None:
    """What to do about a bias beyond the ordinary that is the larger part of the error."""
    early_s, spread = timing.constant_error_s, timing.variable_error_s
    if early_s is None or spread is None or len(timing.pairs) <= FEW_TAPS:
        return None
    # The mean squared error is bias squared plus spread squared.
    if abs(early_s) < max(BIAS_S, spread):
        return None
    if early_s < 0:
        return (
            f"You are {-early_s:.1f} s early on the whole, more than the few hundredths everybody "
            "is: wait for the picture of the checkpoint."
        )
    late = f"You are {early_s:.1f} s late on the whole: say what comes next one breath sooner"
    if led:
        return f"{late}."
    return f"{late} (or the sound is late: see `coach calibrate`)."


def scale(found: Gauged) -> str | None:
    """What to do about a hand that banks and pitches too little, or too much, wherever it does."""
    shares = [
        angle.across_deg / abs(angle.belongs_deg)
        for angle in _angles(found)
        if abs(angle.belongs_deg) > LEVEL_DEG
    ]
    if len(shares) <= FEW_TAPS:
        return None
    middle = statistics.median(shares)
    if middle < LITTLE and max(shares) < 1.0:
        much, more = "little", "let bank and nose go on until they are there"
    elif middle > MUCH and min(shares) > 1.0:
        much, more = "much", "stop bank and nose as soon as they are there"
    else:
        return None
    return (
        f"Your hand moves too {much} throughout, about {5 * round(20 * middle)} % of what belongs: "
        f"say each bank and pitch aloud, and {more}."
    )


def sides(found: Gauged) -> str | None:
    """What to do about turns to one side that are steeper than those to the other."""
    off: dict[str, list[float]] = {"right": [], "left": []}
    for angle in _angles(found):
        if angle.of == "bank" and abs(angle.belongs_deg) > LEVEL_DEG and not angle.is_turned:
            off[side_of(angle.belongs_deg)].append(angle.off_deg)
    if min(map(len, off.values())) < 2:
        return None
    apart = statistics.fmean(off["left"]) - statistics.fmean(off["right"])
    chance = math.sqrt(sum(statistics.variance(one) / len(one) for one in off.values()))
    if abs(apart) < max(SIDES_DEG, 2.0 * chance):
        return None
    steeper, other = ("left", "right") if apart > 0.0 else ("right", "left")
    return (
        f"Your {steeper} turns are {abs(apart):.0f}° steeper than your {other} ones: fly one after "
        "the other, and say each bank aloud as you reach it."
    )


def _angles(found: Gauged) -> list[Angle]:
    return [angle for one in found.verdicts if one.flown for angle in one.flown.angles]


def trend_s(timing: Timing, at_s: float, found: Gauged) -> float:
    """How far off bias and tempo alone make a tap at some time; early negative."""
    assert timing.tempo is not None and timing.constant_error_s is not None
    planned = [found.verdicts[checkpoint].planned_s for checkpoint, _ in timing.pairs]
    return timing.constant_error_s + (timing.tempo - 1.0) * (at_s - statistics.fmean(planned))


def _is_scattered(found: Gauged) -> bool:
    """Whether taps do not follow the maneuver, even allowing for bias and tempo.

    Or many checkpoints are missed while as many taps belong to none.
    """
    timing = found.timing
    heard = [verdict for verdict in found.verdicts if verdict.word != "not perceived"]
    astray = min(len(timing.missed), len(timing.extra))
    if astray >= max(2.0, MANY_MISSED * len(heard)):
        return True
    if len(timing.pairs) <= FEW_TAPS:
        return False
    left = (
        error - trend_s(timing, found.verdicts[checkpoint].planned_s, found)
        for (checkpoint, _), error in zip(timing.pairs, timing.errors_s, strict=True)
    )
    spread = math.sqrt(statistics.fmean(one * one for one in left))
    beyond = sum(verdict.word == "missed" or (verdict.share or 0.0) > 1.0 for verdict in heard)
    return spread > SCATTERED_S and beyond > BEYOND * len(heard)


def _makes(habit_s: float, off_s: float, part: float = PART) -> bool:
    """Whether a habit makes up enough of an error, and in its direction."""
    return habit_s * off_s > 0.0 and abs(habit_s) >= part * abs(off_s)
