"""The coach's own voice in the room: when it must not be taken for the student's.

With headphones there is nothing to do: the coach hears a student who answers while it still asks.
With loudspeakers the microphone is closed while the coach speaks: its times are known to a few
milliseconds, and the soundtrack is not subtracted from what comes in. What a student says then
cannot be perceived; the student is told so, and `coach.debrief.doubt` holds it against nobody.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable

from coach.callouts.cuesheet import CueSheet

HEADPHONES = "Headphones: the coach hears you at any time, also while it asks."
LOUDSPEAKERS = "Loudspeakers: the coach does not hear you while it speaks, so answer after it."

BEFORE_S = 0.05
AFTER_S = 0.2
"""A living room rings that long after a word: what is left is 20 dB down at a reverberation time of
0.6 s (common practice, no source)."""

Stretch = tuple[float, float]
"""From a position on the soundtrack to another one, in seconds."""


def covered(sheet: CueSheet) -> tuple[Stretch, ...]:
    """Where the coach is heard or still rings, joined where they touch, in time."""
    found: list[Stretch] = []
    for cue in sheet.cues:
        if cue.phrase is None:
            continue
        begin, end = cue.start_s - BEFORE_S, cue.end_s + AFTER_S
        if found and begin <= found[-1][1]:
            found[-1] = found[-1][0], max(end, found[-1][1])
        else:
            found.append((begin, end))
    return tuple(found)


class OwnVoice:
    """Whether the coach is heard at a moment, for `coach.ears.ears.Ears`.

    Args:
        sheet: what the coach says when.
        position_s: where on the soundtrack a `time.perf_counter` time lies, as the player knows it.
    """

    def __init__(self, sheet: CueSheet, position_s: Callable[[float], float]) -> None:
        self._covered = covered(sheet)
        self._position_s = position_s

    def __call__(self, at: float) -> bool:
        """Whether one of its phrases is heard at ``at``, or still rings."""
        position = self._position_s(at)
        index = bisect_right(self._covered, (position, float("inf"))) - 1
        return index >= 0 and position < self._covered[index][1]
