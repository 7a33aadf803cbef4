"""Speech cut out of what a microphone hears: by its loudness, or as long as a key is down.

A student is nearer to the microphone than anything else in the room, so what stands out of the last
seconds' noise is taken for the student.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

RATE = 16_000
"""Samples a second that the recogniser takes."""

Samples = npt.NDArray[np.float32]

FRAME_S = 0.02
STANDS_OUT_DB = 8.0
"""How far above the noise floor speech begins; it goes on down to half of that."""

BEGINS_S = 0.10
"""So long, within twice that time, must something stand out to begin an utterance."""

ENDS_S = 0.45
"""So long must it be quiet to end one: longer than the pauses between two numbers."""

LONGEST_S = 8.0
MARGIN_S = 0.25
"""Kept before and after, so that no soft consonant is cut off."""

_FLOOR_S = 10.0
_QUIETEST_DB = -80.0
_FRAME = round(FRAME_S * RATE)


@dataclass(frozen=True, eq=False)
class Segment:
    """A stretch of sound with one utterance in it.

    Attributes:
        start: its first sample, counted from the first one that was ever heard.
        samples: float32 at `RATE`.
        over: whether the utterance is over; else it may be, and this is all of it if nothing
            follows: time to understand it before that is certain.
    """

    start: int
    samples: Samples
    over: bool = True


class Segmenter:
    """Takes sound as it comes and gives each utterance once it may be over, and when it is.

    Args:
        pushed: nothing begins by itself, but with `push`: for rooms where too much stands out.
    """

    def __init__(self, *, pushed: bool = False) -> None:
        self._pushed = pushed
        self._samples: Samples = np.zeros(0, np.float32)
        self._first = 0
        self._seen = 0
        self._room: Samples = np.zeros(_FRAME, np.float32)
        self._levels: deque[float] = deque(maxlen=round(_FLOOR_S / FRAME_S))
        self._loud: deque[bool] = deque(maxlen=round(ENDS_S / FRAME_S))
        self._begun: int | None = None
        self._paused: int | None = None
        self._spoke = False

    @property
    def is_within(self) -> bool:
        """Whether an utterance has begun and is not over."""
        return self._begun is not None

    def push(self) -> Segment | None:
        """Begin an utterance here, or end the one that was begun so and hand it over."""
        if self._begun is not None:
            return self._cut()
        self._begin(self._seen)
        return None

    def feed(self, samples: Samples) -> Iterator[Segment]:
        """The utterances that these samples may end, and do end.

        Args:
            samples: float32 at `RATE`, any number of them; what is to be left out, since the coach
                itself was heard then, is NaN.
        """
        self._samples = np.concatenate([self._samples, samples])
        while (self._seen + 1) * _FRAME <= self._first + len(self._samples):
            at = self._seen * _FRAME - self._first
            self._hear(self._samples[at : at + _FRAME])
            self._seen += 1
            if self._begun is None:
                self._forget()
            elif self._is_over():
                yield self._cut()
            elif self._spoke and self._paused is None and self._is_quiet(MARGIN_S):
                self._paused = self._seen
                yield replace(self._segment(self._begun), over=False)

    def _hear(self, frame: Samples) -> None:
        # The difference from sample to sample: a fan's and an engine's rumble is soft in it.
        power = float(np.mean(np.square(np.diff(frame), dtype=np.float64)))
        known = not math.isnan(power)
        level = max(_QUIETEST_DB, 10.0 * math.log10(power + 1e-12)) if known else _QUIETEST_DB
        if known:
            self._levels.append(level)
        # A student speaks for less than half of any ten seconds, and other people's talk in the
        # room is loud only now and then: half of the time it is quieter than this.
        floor = sorted(self._levels)[len(self._levels) // 2] if self._levels else _QUIETEST_DB
        needed = STANDS_OUT_DB if self._begun is None else STANDS_OUT_DB / 2.0
        self._loud.append(level > floor + needed)
        if self._loud[-1]:
            self._paused = None
        if known and not self._loud[-1] and self._begun is None:
            self._room = np.concatenate([self._room, frame])[-round(MARGIN_S * RATE) :]
        recent = list(self._loud)[-round(2.0 * BEGINS_S / FRAME_S) :]
        if sum(recent) >= round(BEGINS_S / FRAME_S):
            if self._begun is None and not self._pushed:
                self._begin(self._seen - len(recent) + 1 + recent.index(True))
            self._spoke = True

    def _begin(self, frame: int) -> None:
        self._begun, self._paused, self._spoke = frame, None, False

    def _is_over(self) -> bool:
        assert self._begun is not None
        is_long = (self._seen - self._begun) * FRAME_S >= LONGEST_S
        return (self._spoke and self._is_quiet(ENDS_S)) or is_long

    def _is_quiet(self, seconds: float) -> bool:
        count = int(seconds / FRAME_S)
        return len(self._loud) >= count and not any(list(self._loud)[-count:])

    def _cut(self) -> Segment:
        assert self._begun is not None
        found = self._segment(self._begun)
        self._begun = None
        self._loud.clear()
        return found

    def _segment(self, begun: int) -> Segment:
        start = max(self._first, begun * _FRAME - round(MARGIN_S * RATE))
        end = (self._paused or self._seen) * _FRAME
        return Segment(start, self._filled(self._samples[start - self._first : end - self._first]))

    def _filled(self, samples: Samples) -> Samples:
        """The samples, with what the room last sounded like in place of what was left out."""
        return np.where(np.isnan(samples), np.resize(self._room, len(samples)), samples)

    def _forget(self) -> None:
        keep = self._seen * _FRAME - round((MARGIN_S + 2.0 * BEGINS_S) * RATE)
        if keep - self._first > RATE:
            self._samples = self._samples[keep - self._first :]
            self._first = keep
