"""How far a student's taps lie from what they mean, when tapping along with a tone.

The tones come at an uneven beat, 1.2 to 2 s apart, so that a tap up to 0.5 s late or early belongs
to one tone only. The offset is the median of tap minus tone, which a few slips do not move; its
interval is the one of the sign test for a median (W. J. Conover, Practical Nonparametric
Statistics, from memory), at least 95 %.

People who tap along with a sound are on average a few tens of milliseconds early (B. H. Repp,
Psychonomic Bulletin & Review 12 (2005) 969-992). What is later than that, or much earlier, is not
the hand: sound that reaches the ear late, as in a wireless headset, makes taps late by its delay.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from coach.taps.timing import match

BEATS_S = (1.5, 1.3, 1.8, 1.2, 1.6, 2.0, 1.4, 1.7)
"""From one tone to the next, again and again."""

TONES = 24
FIRST = 4
"""The first taps find the beat, and are left out."""

WINDOW_S = 0.55
LEAST = 10
SCATTERED_S = 0.12
"""Adults tap along with a spread of 20 to 60 ms (Repp 2005, from memory); twice that is no beat."""

HABIT_S = (-0.08, 0.02)
"""Offsets that a human hand alone explains."""

Cause = Literal["habit", "delay", "early", "unsure"]


@dataclass(frozen=True)
class Offset:
    """What tapping along showed.

    Attributes:
        offset_s: taps minus tones, late positive; None where it cannot be told.
        low_s: the interval's low end; None likewise.
        high_s: its high end; None likewise.
        spread_s: half the width in which two taps of three lie; None likewise.
        taps: how many taps it rests on.
        cause: ``"habit"`` of the hand, ``"delay"`` of the sound, ``"early"`` by more than habit, or
            ``"unsure"``.
        sentence: all of it in words.
    """

    offset_s: float | None
    low_s: float | None
    high_s: float | None
    spread_s: float | None
    taps: int
    cause: Cause
    sentence: str

    @property
    def trusted(self) -> bool:
        """Whether taps may be corrected by it."""
        return self.offset_s is not None


def pattern() -> tuple[float, ...]:
    """When the tones sound, seconds from the first one."""
    times = [0.0]
    for index in range(TONES - 1):
        times.append(times[-1] + BEATS_S[index % len(BEATS_S)])
    return tuple(round(time, 3) for time in times)


def estimate(tones_s: Sequence[float], taps_s: Sequence[float]) -> Offset:
    """Estimate the offset of a student and a machine.

    Args:
        tones_s: when the tones were heard as the machine believes, increasing.
        taps_s: when the taps came, increasing, on the same clock.
    """
    timing = match(tones_s, taps_s, WINDOW_S)
    errors = sorted(
        error
        for (tone, _), error in zip(timing.pairs, timing.errors_s, strict=True)
        if tone >= FIRST
    )
    if len(errors) < LEAST:
        return _nothing(
            len(errors), f"Only {len(errors)} taps went with a tone; it takes {LEAST}. Try again."
        )
    middle = statistics.median(errors)
    spread = 1.4826 * statistics.median(abs(error - middle) for error in errors)
    if spread > SCATTERED_S:
        return _nothing(
            len(errors),
            f"The taps are scattered by {_ms(spread)}, too much to tell an offset. Try again, and "
            "tap as if you played the tone yourself.",
        )
    reach = _reach(len(errors))
    low, high = errors[reach], errors[-1 - reach]
    cause = _cause(low, high)
    return Offset(
        middle, low, high, spread, len(errors), cause, _sentence(middle, low, high, cause)
    )


def _cause(low_s: float, high_s: float) -> Cause:
    earliest, latest = HABIT_S
    if low_s > latest:
        return "delay"
    if high_s < earliest:
        return "early"
    return "habit" if earliest <= low_s and high_s <= latest else "unsure"


def _sentence(middle_s: float, low_s: float, high_s: float, cause: Cause) -> str:
    side = "late" if middle_s > 0 else "early"
    figures = f"Your taps come {_ms(abs(middle_s))} {side} (between {_ms(low_s)} and {_ms(high_s)})"
    earliest, latest = HABIT_S
    means = {
        "habit": "a hand's own habit, nothing is wrong with the sound",
        "delay": f"later than a hand's habit ({_ms(earliest)} to {_ms(latest)}), so the sound "
        "reaches you late, as through a wireless headset",
        "early": f"earlier than a hand's habit ({_ms(earliest)} to {_ms(latest)}), so the sound is "
        "heard sooner than this machine believes",
        "unsure": "a hand's habit and a small delay of the sound cannot be told apart here",
    }
    return f"{figures}: {means[cause]}."


def _nothing(taps: int, sentence: str) -> Offset:
    return Offset(None, None, None, None, taps, "unsure", sentence)


def _reach(count: int) -> int:
    """How many of the sorted values lie outside the 95 % interval of their median, on each side."""
    chance, outside = 0.0, 0
    while True:
        chance += math.comb(count, outside) / 2.0**count
        if chance > 0.025:
            return outside - 1 if outside else 0
        outside += 1


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"
