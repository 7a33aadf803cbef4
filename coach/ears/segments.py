"""Speech cut out of what a microphone hears: by how it stands out, or as long as a key is down.

A student is nearer to the microphone than anything else in the room, so what stands out of the last
seconds' noise is taken for the student.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import takewhile

import numpy as np

from coach.ears.bands import FRAME, FRAME_S, LAG, Bands
from coach.ears.bands import RATE as RATE
from coach.ears.bands import Samples as Samples
from coach.ears.fitting import Fitting

BEGINS_S = 0.06
"""So much longer than not must something stand out to begin an utterance."""

ENDS_S = 0.45
"""So long must it be quiet to end one: longer than the pauses between two numbers."""

LONGEST_S = 8.0
MARGIN_S = 0.25
"""Kept before and after, so that no soft consonant is cut off."""

_NOISE_S = 10.0
_SOFT_S = 0.3
"""So much earlier than it stands out may an utterance have begun softly."""

NOTICED_S = _SOFT_S + LAG * FRAME_S
"""So long after its beginning, at the latest, is an utterance known to have begun."""

_NEAR = round(0.15 / FRAME_S)
"""So many frames from what was left out an utterance may have begun, or gone on, in it: a number is
silent for some 0.1 s before a stop consonant (common practice, no source)."""

_VOICED = round(1.0 / FRAME_S)
"""What has stood out for so many frames without a voice in them is the room from then on: a fan
that was switched on, or a microphone that had been mute. It would hide what is said next."""

_SILENCE = 1e-12


@dataclass(frozen=True, eq=False)
class Segment:
    """A stretch of sound with one utterance in it.

    Attributes:
        start: its first sample, counted from the first one that was ever heard.
        samples: float32 at `RATE`.
        stands_out_db: how much louder it is than the room usually was before it, in dB, both
            without their rumble.
        over: whether the utterance is over; else it may be, and this is all of it if nothing
            follows: time to understand it before that is certain.
        whole: whether nothing of it was left out: else it may lack its beginning, or a word.
    """

    start: int
    samples: Samples
    stands_out_db: float
    over: bool = True
    whole: bool = True


class Segmenter:
    """Takes sound as it comes and gives each utterance once it may be over, and when it is.

    Args:
        pushed: nothing begins by itself, but with `push`: for rooms where too much stands out.
        fitting: how far a voice must stand out; None is as usual.
        is_voice: whether there is a voice in what stands out by itself: else it is passed over.
            None takes everything for one.
    """

    def __init__(
        self,
        *,
        pushed: bool = False,
        fitting: Fitting | None = None,
        is_voice: Callable[[Samples], bool] | None = None,
    ) -> None:
        self._pushed = pushed
        self._is_voice = is_voice
        self._fitting = fitting or Fitting()
        self._bands = Bands()
        self._samples: Samples = np.zeros(0, np.float32)
        self._first = 0
        self._seen = 0
        self._room: Samples = np.zeros(FRAME, np.float32)
        self._powers: deque[float] = deque(maxlen=round(_NOISE_S / FRAME_S))
        self._noise = 0.0
        self._scores: deque[float] = deque(maxlen=round(_SOFT_S / FRAME_S))
        self._evidence = 0
        self._begun: int | None = None
        self._until = 0
        self._spoke = False
        self._quiet = 0
        self._covered = 0

    @property
    def is_within(self) -> bool:
        """Whether an utterance has begun and is not over."""
        return self._begun is not None

    def push(self) -> Segment | None:
        """Begin an utterance here, or end the one that was begun so and hand it over."""
        if self._begun is not None:
            return self._cut(self._begun, self._seen * FRAME)
        self._begin(self._seen)
        return None

    def feed(self, samples: Samples) -> Iterator[Segment]:
        """The utterances that these samples may end, and do end.

        Args:
            samples: float32 at `RATE`, any number of them; what is to be left out, since the coach
                itself was heard then, is NaN.
        """
        self._samples = np.concatenate([self._samples, samples])
        while (self._seen + 1) * FRAME <= self._first + len(self._samples):
            self._hear()
            self._seen += 1
            if self._begun is None:
                self._forget()
            elif self._is_over(self._begun):
                yield from self._voiced(self._cut(self._begun, self._end))
            elif self._pauses:
                maybe = replace(self._segment(self._begun, self._end), over=False)
                yield from self._voiced(maybe)
            elif self._is_room(self._begun):
                yield from self._voiced(self._cut(self._begun, self._end))
                self._powers.clear()
                self._bands.begin_anew(_VOICED)

    def _voiced(self, segment: Segment) -> Iterator[Segment]:
        if self._has_voice(segment.samples):
            yield segment

    def _has_voice(self, samples: Samples) -> bool:
        return self._pushed or self._is_voice is None or self._is_voice(samples)

    def _hear(self) -> None:
        score = self._bands.hear(self._frame(self._seen))
        if score is None:
            self._covered += 1
            self._evidence = 0
            self._scores.clear()
            return
        self._covered = 0
        self._scores.append(score)
        goes_on = score > self._fitting.goes_on_db
        begins = score > self._fitting.begins_db
        self._evidence = max(0, self._evidence + (1 if begins else -1))
        speaks = self._evidence >= round(BEGINS_S / FRAME_S)
        if self._begun is None:
            self._remember(goes_on)
            if speaks and not self._pushed:
                loud = takewhile(lambda one: one > self._fitting.goes_on_db, reversed(self._scores))
                self._begin(max(0, self._seen - LAG - len([*loud])))
        if self._begun is not None:
            self._spoke = self._spoke or speaks
            self._quiet = 0 if goes_on else self._quiet + 1
            self._until = self._seen + 1 - LAG if goes_on else self._until

    def _frame(self, number: int) -> Samples:
        at = number * FRAME - self._first
        return self._samples[at : at + FRAME]

    def _remember(self, goes_on: bool) -> None:
        """What the room sounds like."""
        frame = self._frame(max(0, self._seen - LAG))
        if not np.isnan(frame).any():
            self._powers.append(_power(frame))
            if not goes_on:
                self._room = np.concatenate([self._room, frame])[-round(MARGIN_S * RATE) :]

    def _begin(self, frame: int) -> None:
        self._begun = self._until = frame
        self._spoke = False
        self._quiet = self._covered = 0
        self._noise = float(np.median(self._powers)) if self._powers else 0.0

    def _is_over(self, begun: int) -> bool:
        # Of what is said while the coach speaks nothing will be known.
        is_done = max(self._quiet, self._covered) * FRAME_S >= ENDS_S
        return (self._spoke and is_done) or (self._seen - begun) * FRAME_S >= LONGEST_S

    def _is_room(self, begun: int) -> bool:
        """Whether there is no voice in the last `_VOICED` frames, each looked at once."""
        if (self._seen - begun) % _VOICED:
            return False
        last = (self._seen - _VOICED) * FRAME - self._first
        return not self._has_voice(np.nan_to_num(self._samples[last:]))

    @property
    def _pauses(self) -> bool:
        """Whether a pause, which may be the end, has lasted for `MARGIN_S` now."""
        return self._spoke and not self._covered and self._quiet == math.ceil(MARGIN_S / FRAME_S)

    @property
    def _end(self) -> int:
        """The sample up to which the utterance is handed over."""
        heard = self._until * FRAME + round(MARGIN_S * RATE)
        return min(heard, self._seen * FRAME) if self._spoke else self._seen * FRAME

    def _cut(self, begun: int, end: int) -> Segment:
        found = self._segment(begun, end)
        self._begun = None
        self._evidence = 0
        self._scores.clear()
        return found

    def _segment(self, begun: int, end: int) -> Segment:
        start = max(self._first, begun * FRAME - round(MARGIN_S * RATE))
        samples = self._samples[start - self._first : end - self._first]
        is_left_out = np.isnan(samples)
        # The room goes on where something is left out.
        filled = np.where(is_left_out, np.resize(self._room, len(samples)), samples)
        first, last = begun * FRAME - start, self._until * FRAME - start
        stands_out = (_power(samples[first:last]) + _SILENCE) / (self._noise + _SILENCE)
        around = slice(max(0, first - _NEAR * FRAME), last + _NEAR * FRAME)
        whole = not is_left_out[around].any()
        return Segment(start, filled, 10.0 * math.log10(stands_out), whole=whole)

    def _forget(self) -> None:
        keep = self._seen * FRAME - RATE
        if keep - self._first > RATE:
            self._samples = self._samples[keep - self._first :]
            self._first = keep


def _power(samples: Samples) -> float:
    """Mean square of what is known of it, with a fan's and an engine's rumble made soft."""
    # The difference from sample to sample: low tones are small in it.
    squared = np.square(np.diff(samples), dtype=np.float64)
    known = squared[~np.isnan(squared)]
    return float(known.mean()) if len(known) else 0.0
