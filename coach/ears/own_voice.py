"""The coach's own voice in the room: when it must not be taken for the student's.

With headphones there is nothing to do. With loudspeakers the microphone is closed while the coach
speaks: its times are known to a few milliseconds. Subtracting the soundtrack instead was not
needed, since a question is over before its answer begins; what a student says over the coach's own
words is lost, and the student is told so.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable

from coach.callouts.cuesheet import CueSheet

HEADPHONES = "Headphones: the coach hears you at any time."
LOUDSPEAKERS = "Loudspeakers: the coach does not hear you while it speaks itself."

BEFORE_S = 0.05
AFTER_S = 0.2
"""A living room rings that long after a word: what is left is 20 dB down at a reverberation time of
0.6 s (common practice, no source)."""


class OwnVoice:
    """Whether the coach is heard at a moment, for `coach.ears.ears.Ears`.

    Args:
        sheet: what the coach says when.
        position_s: where on the soundtrack a `time.perf_counter` time lies, as the player knows it.
    """

    def __init__(self, sheet: CueSheet, position_s: Callable[[float], float]) -> None:
        said = [cue for cue in sheet.cues if cue.phrase is not None]
        self._begins = [cue.start_s - BEFORE_S for cue in said]
        self._ends = [cue.end_s + AFTER_S for cue in said]
        self._position_s = position_s

    def __call__(self, at: float) -> bool:
        """Whether one of its phrases is heard at ``at``, or still rings."""
        position = self._position_s(at)
        index = bisect_right(self._begins, position) - 1
        return index >= 0 and position < self._ends[index]
