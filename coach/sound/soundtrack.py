"""The soundtrack: everything that is heard in one rehearsal, from any moment to any other."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter

import numpy as np

from coach.callouts.cuesheet import Cue, CueSheet
from coach.sound.bed import LEVELS, Bed, bed, checked
from coach.sound.clip import RATE, TONE_TRUE_PEAK, Clip, Samples
from coach.sound.tones import tone

PEAK = 10 ** (-1 / 20)
"""The true peak stays below this, 1 dB below full scale, without a limiter: the most of a phrase,
of a tone over it and of the bed under both come to less."""

TICK = "tick"

TICK_TRUE_PEAK, TICK_OVER_SPEECH = 0.04, 0.15
"""True peak of a tick: by itself, and where it must be heard over what is being said."""

_MASKED_S = 0.1  # so long after a word it still covers what is soft


@dataclass(frozen=True, eq=False)
class Sound:
    """A phrase or a tone at its place.

    Attributes:
        start: its first frame on the soundtrack.
        samples: float32, mono.
        gain: what they are multiplied by.
    """

    start: int
    samples: Samples
    gain: float

    @property
    def end(self) -> int:
        """The first frame after it."""
        return self.start + len(self.samples)


@dataclass(frozen=True, eq=False)
class Soundtrack:
    """What is played or written: it holds the clips and what the airplane does, and no mix of them.

    Attributes:
        length: frames; a frame is one sample for each ear.
        sounds: what is spoken and the tones, by start.
        bed: the airplane.
        whole: whether that is all of it; else it is how a longer one begins.
        rate: frames a second.
        channels: left and right.
    """

    length: int
    sounds: tuple[Sound, ...]
    bed: Bed
    whole: bool = True
    rate: int = RATE
    channels: int = 2

    @property
    def length_s(self) -> float:
        """From the first frame to the last, in seconds."""
        return self.length / self.rate

    def frames(self, start: int, count: int) -> Samples:
        """What is heard from one frame on; the same samples however the soundtrack is cut up.

        Args:
            start: the first frame.
            count: how many.

        Returns:
            float32, shape (count, 2); silence before the soundtrack and after it.
        """
        out = np.zeros((count, 2), dtype=np.float32)
        first, last = max(start, 0), min(start + count, self.length)
        if first < last:
            out[first - start : last - start] = self.bed.frames(first, last - first)
        for sound in self._near(first, last):
            begin, end = max(first, sound.start), min(last, sound.end)
            if begin < end:
                part = sound.samples[begin - sound.start : end - sound.start]
                out[begin - start : end - start] += (part * np.float32(sound.gain))[:, None]
        return out

    def sound(self, cue: Cue) -> Sound | None:
        """What is heard of a phrase; None where no voice could say it."""
        start, length = round(cue.start_s * self.rate), round(cue.length_s * self.rate)
        found = (one for one in self.sounds if one.start == start and len(one.samples) == length)
        return next(found, None)

    @cached_property
    def _longest(self) -> int:
        return max((len(sound.samples) for sound in self.sounds), default=0)

    def _near(self, first: int, last: int) -> tuple[Sound, ...]:
        """The sounds that may be heard between two frames, without a look at all the others."""
        begin = bisect_left(self.sounds, first - self._longest, key=attrgetter("start"))
        return self.sounds[begin : bisect_left(self.sounds, last, begin, key=attrgetter("start"))]


def silence(seconds: float) -> Soundtrack:
    """How a soundtrack begins that is silent for so long at first."""
    return Soundtrack(round(seconds * RATE), (), Bed(()), whole=False)


def mix(
    sheet: CueSheet,
    clips: Mapping[str, Clip],
    levels: Mapping[str, float] = LEVELS,
    *,
    whole: bool = True,
) -> Soundtrack:
    """Lay every cue at frame ``round(start_s * RATE)``, over the sound of the airplane.

    Args:
        sheet: what sounds when.
        clips: the sound of the phrases, by their spoken text; a phrase without one stays silent.
        levels: how loud each part of the bed is, 0 (off) to 1; see `coach.sound.bed`.
        whole: whether the sheet is that of a whole soundtrack.

    Raises:
        Problem: the sheet names a tone that is in no ``audio_cues`` folder, or a level is none.
    """
    levels = checked(levels)
    said: list[Sound] = []
    tones: list[Sound] = []
    ticks: list[Sound] = []
    for cue in sheet.cues:
        start = round(cue.start_s * RATE)
        if cue.tone is not None:
            (ticks if cue.tone == TICK else tones).append(Sound(start, tone(cue.tone).samples, 1.0))
        elif cue.phrase is not None and cue.phrase.spoken in clips:
            said.append(Sound(start, clips[cue.phrase.spoken].samples, 1.0))
    speech = list(_shared(said))
    if levels["ticks"]:
        tones += _heard_over(speech, ticks, levels["ticks"])
    sounds = [*speech, *_shared(tones)]
    sounds.sort(key=lambda sound: sound.start)
    length = max([round(sheet.length_s * RATE), *(sound.end for sound in sounds)])
    spoken = [(sound.start / RATE, sound.end / RATE) for sound in speech]
    return Soundtrack(length, tuple(sounds), bed(sheet, spoken, levels, length / RATE), whole)


def _heard_over(speech: list[Sound], ticks: list[Sound], level: float) -> Iterator[Sound]:
    """The ticks at their gain: more where something is being said."""
    starts = np.array([sound.start for sound in speech])
    ends = np.array([sound.end for sound in speech]) + round(_MASKED_S * RATE)
    for tick in ticks:
        masked = ((starts < tick.end) & (tick.start < ends)).any()
        peak = TICK_OVER_SPEECH if masked else TICK_TRUE_PEAK
        yield replace(tick, gain=level * peak / TONE_TRUE_PEAK)


def _shared(placed: list[Sound]) -> Iterator[Sound]:
    """Sounds of one kind, of which those that meet share the room that there is for one.

    A sheet lays no phrase on another and seldom a tone on a tone; where it does, nothing may clip.
    """
    starts = sorted(sound.start for sound in placed)
    ends = sorted(sound.end for sound in placed)
    for sound in placed:
        met = bisect_left(starts, sound.end) - bisect_right(ends, sound.start)
        yield replace(sound, gain=sound.gain / max(met, 1))
