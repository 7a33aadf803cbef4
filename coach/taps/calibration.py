"""How far a student's taps lie from what they mean, when tapping along with a tone.

The tones come at a steady beat, as nobody can tap along with an uneven one: people then wait for
the tone and answer it, a fifth of a second late. The beat is slow, so that a tap up to half a
second late or early belongs to one tone only, yet quick enough to be kept: beyond some 1.8 s
between tones people only answer, too (Repp 2005, from memory). The first tones are for finding the
beat. The offset is the median of tap minus tone, which slips hardly move; its interval is the one
of the sign test for a median (W. J. Conover, Practical Nonparametric Statistics, from memory), at
least 95 %. Where the interval is too wide, no figure is given.

People who tap along with a sound are on average a few tens of milliseconds early (B. H. Repp,
Psychonomic Bulletin & Review 12 (2005) 969-992). So the rule is: if the whole interval lies within
`HABIT_S`, it is a hand's habit; if all of it lies later, the sound reaches the ear late, as through
a wireless headset, or the student answers instead of tapping along, which taps alone cannot tell;
if all of it lies earlier, the sound is heard sooner than the machine believes; and if it lies
across an end, nobody can be sure.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from coach.taps.timing import match

BEAT_S = 1.2
"""From one tone to the next."""

TONES = 24
FIRST = 4
"""Taps at so many tones are left out: they find the beat."""

FARTHEST_S = 0.55
"""How far a tap may be from its tone: less than half a beat."""

CLOSE_S = 0.3
"""How far from the others a tap may be."""

LEAST = 10
WIDE_S = 0.12
"""The widest interval that is worth a figure: on either side a quarter of what counts as on time
(0.25 s, `coach.debrief.gauging.ON_TIME_S`)."""

NORMAL = 1.4826
"""The standard deviation of a normal distribution over its median distance to the median."""

HABIT_S = (-0.08, 0.02)
"""Offsets that a human hand alone explains."""

Cause = Literal["habit", "delay", "early", "unsure"]


@dataclass(frozen=True)
class Offset:
    """What tapping along showed.

    Attributes:
        offset_s: taps minus tones, late positive; None where it cannot be told.
        low_s: the low end of its interval, which holds it at least 19 times in 20; None likewise.
        high_s: the high end; None likewise.
        spread_s: standard deviation of single taps, from their median distance to the median;
            None likewise.
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


def pattern() -> tuple[float, ...]:
    """When the tones sound, seconds from the first one."""
    return tuple(round(BEAT_S * index, 3) for index in range(TONES))


def estimate(tones_s: Sequence[float], taps_s: Sequence[float]) -> Offset:
    """Estimate the offset of a student and a machine.

    Args:
        tones_s: when the tones were heard as the machine believes, increasing.
        taps_s: when the taps came, increasing, on the same clock.

    Raises:
        Problem: times that are not finite or not increasing.
    """
    errors = _errors(tones_s, taps_s, 0.0, FARTHEST_S)
    if errors:
        # Slips lie all around a tone: seen from the taps themselves they are on neither side.
        errors = _errors(tones_s, taps_s, statistics.median(errors), CLOSE_S)
    if len(errors) < LEAST:
        return _nothing(
            len(errors),
            f"Only {len(errors)} of the taps went with a tone, and it takes {LEAST}. Try again, "
            "and tap with every tone.",
        )
    middle = statistics.median(errors)
    reach = _reach(len(errors))
    low, high = errors[reach], errors[-1 - reach]
    if high - low > WIDE_S:
        return _nothing(
            len(errors),
            f"The taps are too scattered to tell an offset: it may be anything between "
            f"{_sided(low)} and {_sided(high)}. Try again, and tap as if you played the tone "
            "yourself.",
        )
    spread = NORMAL * statistics.median(abs(error - middle) for error in errors)
    cause = _cause(low, high)
    return Offset(
        middle, low, high, spread, len(errors), cause, _sentence(middle, low, high, cause)
    )


def _errors(
    tones_s: Sequence[float], taps_s: Sequence[float], about_s: float, window_s: float
) -> list[float]:
    """Taps minus tones in order of size, of taps within a window about an offset."""
    timing = match([tone + about_s for tone in tones_s], taps_s, window_s)
    pairs = zip(timing.pairs, timing.errors_s, strict=True)
    return sorted(about_s + error for (tone, _), error in pairs if tone >= FIRST)


def _cause(low_s: float, high_s: float) -> Cause:
    earliest, latest = HABIT_S
    if low_s > latest:
        return "delay"
    if high_s < earliest:
        return "early"
    return "habit" if earliest <= low_s and high_s <= latest else "unsure"


def _sentence(middle_s: float, low_s: float, high_s: float, cause: Cause) -> str:
    earliest, latest = HABIT_S
    habit = f"a hand's own habit ({_sided(earliest)} to {_sided(latest)})"
    means = {
        "habit": f"{habit}, nothing is wrong with the sound",
        "delay": f"later than {habit}, so the sound reaches you late, as through a wireless "
        "headset, unless you waited for each tone instead of tapping with it",
        "early": f"earlier than {habit}, so you hear the sound sooner than this machine believes",
        "unsure": f"{habit} and something in the sound cannot be told apart here",
    }
    figures = f"Your taps come {_sided(middle_s)} ({_sided(low_s)} to {_sided(high_s)})"
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


def _sided(seconds: float) -> str:
    return f"{abs(1000 * seconds):.0f} ms {'late' if seconds > 0 else 'early'}"
