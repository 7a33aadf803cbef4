"""A clip: one phrase or one tone as samples, trimmed and levelled so that a mix cannot clip."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

RATE = 48_000
"""Samples a second of everything that is heard."""

PHRASE_LOUDNESS = 10 ** (-23 / 20)
"""Root mean square of a phrase's louder parts: -23 dB of full scale, the programme level of EBU
R 128 (from memory), here without its frequency weighting."""

PHRASE_PEAK = 0.60
TONE_PEAK = 0.25
"""A phrase with a tone over it stays below 0.85, and so below -1 dB of full scale (0.891)."""

Samples = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Clip:
    """One sound, ready to be mixed.

    Attributes:
        samples: float32, mono, at :data:`RATE`, without silence at either end.
    """

    samples: Samples

    @property
    def length_s(self) -> float:
        """How long it sounds, in seconds."""
        return len(self.samples) / RATE


def read(path: Path) -> Samples:
    """The sound in a file, made mono and brought to :data:`RATE`.

    Raises:
        OSError: the file cannot be opened.
        soundfile.LibsndfileError: it holds no sound that can be read.
    """
    frames, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mono = frames.mean(axis=1)
    if rate != RATE and len(mono):
        # Imported here: half a second that only a cold cache should cost.
        from scipy.signal import resample_poly

        step = math.gcd(RATE, rate)
        mono = resample_poly(mono, RATE // step, rate // step)
    return np.asarray(mono, dtype=np.float32)


def trim(samples: Samples) -> Samples:
    """The samples without the silence before and after.

    Silence is 45 dB below the loudest sample. A few milliseconds stay on either side, faded, so
    that no consonant loses its edge and no cut clicks.
    """
    size = np.abs(samples)
    loud = np.flatnonzero(size > size.max(initial=0.0) * 10 ** (-45 / 20))
    if not len(loud):
        return samples[:0]
    before, after = RATE // 200, RATE // 50
    start, end = max(0, int(loud[0]) - before), int(loud[-1]) + 1 + after
    kept = np.array(samples[start:end], dtype=np.float32)
    fade = min(before, len(kept))
    kept[:fade] *= np.linspace(0, 1, fade, dtype=np.float32)
    kept[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    return kept


def level_phrase(samples: Samples) -> Samples:
    """The samples at :data:`PHRASE_LOUDNESS`, or as near as :data:`PHRASE_PEAK` allows."""
    peak = float(np.abs(samples).max(initial=0.0))
    if peak == 0.0:
        return samples
    block = RATE // 50
    padded = np.pad(samples.astype(np.float64), (0, -len(samples) % block))
    power = (padded.reshape(-1, block) ** 2).mean(axis=1)
    # The gaps between words say nothing about how loud the words are.
    loudness = math.sqrt(power[power > power.max() / 100].mean())
    return np.multiply(
        samples, min(PHRASE_LOUDNESS / loudness, PHRASE_PEAK / peak), dtype=np.float32
    )


def level_tone(samples: Samples) -> Samples:
    """The samples with their peak at :data:`TONE_PEAK`."""
    peak = float(np.abs(samples).max(initial=0.0))
    return np.multiply(samples, TONE_PEAK / peak, dtype=np.float32) if peak else samples
