"""The soundtrack: everything that is heard in one rehearsal, from any moment to any other."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter

import numpy as np

from coach.callouts.cuesheet import Cue, CueSheet
from coach.sound.bed import LEVELS, PEAKS, Bed, bed, checked
from coach.sound.clip import RATE, TONE_TRUE_PEAK, Clip, Samples
from coach.sound.tones import tone

PEAK = 10 ** (-1 / 20)
"""The true peak stays below this, 1 dB below full scale, without a limiter: the most of a phrase,
of a tone over it and of the bed under both come to less."""

TICK = "tick"

Start = tuple[int, Samples]
"""A first frame, and what is heard from it on."""


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
        rate: frames a second.
        channels: left and right.
    """

    length: int
    sounds: tuple[Sound, ...]
    bed: Bed
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


def mix(
    sheet: CueSheet, clips: Mapping[str, Clip], levels: Mapping[str, float] = LEVELS
) -> Soundtrack:
    """Lay every cue at frame ``round(start_s * RATE)``, over the sound of the airplane.

    Args:
        sheet: what sounds when.
        clips: the sound of the phrases, by their spoken text; a phrase without one stays silent.
        levels: how loud each part of the bed is, 0 (off) to 1; see `coach.sound.bed`.

    Raises:
        Problem: the sheet names a tone that is in no ``audio_cues`` folder, or a level is none.
    """
    levels = checked(levels)
    said: list[Start] = []
    tones: list[Start] = []
    ticks: list[Start] = []
    for cue in sheet.cues:
        start = round(cue.start_s * RATE)
        if cue.tone is not None:
            (ticks if cue.tone == TICK else tones).append((start, tone(cue.tone).samples))
        elif cue.phrase is not None and cue.phrase.spoken in clips:
            said.append((start, clips[cue.phrase.spoken].samples))
    speech = list(_shared(said, 1.0))
    sounds = [*speech, *_shared(tones, 1.0)]
    if levels["ticks"]:
        sounds += _shared(ticks, levels["ticks"] * PEAKS["ticks"] / TONE_TRUE_PEAK)
    sounds.sort(key=lambda sound: sound.start)
    length = max([round(sheet.length_s * RATE), *(sound.end for sound in sounds)])
    spoken = [(sound.start / RATE, sound.end / RATE) for sound in speech]
    return Soundtrack(length, tuple(sounds), bed(sheet, spoken, levels, length / RATE))


def _shared(placed: list[Start], gain: float) -> Iterator[Sound]:
    """Sounds of one kind, of which those that meet share the room that there is for one.

    A sheet lays no phrase on another and seldom a tone on a tone; where it does, nothing may clip.
    """
    starts = sorted(start for start, _ in placed)
    ends = sorted(start + len(samples) for start, samples in placed)
    for start, samples in placed:
        met = bisect_left(starts, start + len(samples)) - bisect_right(ends, start)
        yield Sound(start, samples, gain / max(met, 1))
