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

LOUDNESS_LUFS = -23.0
"""Loudness of every phrase, heard with both ears: the programme level of EBU R 128."""

PHRASE_TRUE_PEAK = 0.5
TONE_TRUE_PEAK = 0.2
BED_TRUE_PEAK = 0.15
"""The most that a phrase, a tone and the airplane under both may reach, as shares of full scale.
Phrases never overlap, so a mix stays at or below 0.85. That is below 0.891, which is -1 dB and the
most that EBU R 128 allows: no limiter is needed. What two peaks come to is never more than their
sum, and resampling is linear, so this holds for true peaks as it does for samples."""

Samples = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]

_AROUND = RATE // 100  # silence around a sound, into which its wave rings


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
    """The samples at :data:`LOUDNESS_LUFS`, or as near as :data:`PHRASE_TRUE_PEAK` allows.

    Loudness is that of ITU-R BS.1770-4, whose blocks are 0.4 s long and would show a short word
    softer than it is: a phrase is measured as if it were said over and over for 3 s.
    """
    # Imported here: a second that only a newly spoken phrase should cost.
    import pyloudnorm

    peak = true_peak(samples)
    if peak == 0.0:
        return samples
    repeated = np.tile(samples.astype(np.float64), -(-3 * RATE // len(samples)))
    loudness = pyloudnorm.Meter(RATE).integrated_loudness(np.stack([repeated, repeated], axis=1))
    gain = 10.0 ** ((LOUDNESS_LUFS - loudness) / 20.0)
    return np.multiply(samples, min(gain, PHRASE_TRUE_PEAK / peak), dtype=np.float32)


def level_tone(samples: Samples) -> Samples:
    """The samples with their true peak at :data:`TONE_TRUE_PEAK`."""
    peak = true_peak(samples)
    return np.multiply(samples, TONE_TRUE_PEAK / peak, dtype=np.float32) if peak else samples


def true_peak(samples: Samples) -> float:
    """The highest point of the wave between the samples, at four times their rate.

    ITU-R BS.1770-4, annex 2, with an exact interpolation in place of its short filter.

    Args:
        samples: mono; silence is assumed around them.
    """
    padded = len(samples) + 2 * _AROUND
    size = -(-padded // _AROUND) * _AROUND  # a length that the transform is quick at
    spectrum = np.fft.rfft(np.pad(samples.astype(np.float64), (_AROUND, size - padded + _AROUND)))
    return float(np.abs(4.0 * np.fft.irfft(spectrum, 4 * size)).max())
