"""The soundtrack: everything that is heard in one rehearsal, as one row of samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from coach.callouts.cuesheet import Cue, CueSheet
from coach.sound.clip import RATE, Clip, Samples
from coach.sound.tones import tone

PEAK = 10 ** (-1 / 20)
"""No sample goes beyond this: 1 dB below full scale."""


@dataclass(frozen=True, eq=False)
class Soundtrack:
    """What is played or written.

    Attributes:
        samples: float32, mono, within plus and minus :data:`PEAK`.
        rate: samples a second.
    """

    samples: Samples
    rate: int = RATE

    @property
    def length_s(self) -> float:
        """From the first sample to the last, in seconds."""
        return len(self.samples) / self.rate


def mix(sheet: CueSheet, clips: Mapping[str, Clip]) -> Soundtrack:
    """Lay every cue at sample ``round(start_s * RATE)``.

    Args:
        sheet: what sounds when.
        clips: the sound of the phrases, by their spoken text; a phrase without one stays silent.

    Raises:
        Problem: the sheet names a tone that is in no ``audio_cues`` folder.
    """
    sounds = [(round(cue.start_s * RATE), clip) for cue in sheet.cues if (clip := _of(cue, clips))]
    ends = [start + len(clip.samples) for start, clip in sounds]
    samples = np.zeros(max([round(sheet.length_s * RATE), *ends]), dtype=np.float32)
    for start, clip in sounds:
        samples[start : start + len(clip.samples)] += clip.samples
    # A phrase and a tone together stay below the limit as they are; only a sheet that piles more
    # than that on one moment is turned down, as a whole, so that nothing is bent.
    peak = float(np.abs(samples).max(initial=0.0))
    if peak > PEAK:
        samples *= np.float32(PEAK / peak * (1 - 1e-6))
    samples.flags.writeable = False
    return Soundtrack(samples)


def _of(cue: Cue, clips: Mapping[str, Clip]) -> Clip | None:
    if cue.tone is not None:
        return tone(cue.tone)
    return clips.get(cue.phrase.spoken) if cue.phrase is not None else None
