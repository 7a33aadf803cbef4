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

_BLOCK = 4 * RATE // 10
_WEIGHTING = (
    (
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (1.0, -1.69065929318241, 0.73248077421585),
    ),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)
"""The head's and the ear's filter of ITU-R BS.1770-4, each over and under the fraction."""

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
        mono = _at_our_rate(mono, rate)
    return np.asarray(mono, dtype=np.float32)


def _at_our_rate(samples: Samples, rate: int) -> Floats:
    """The same wave at :data:`RATE`: its spectrum with frequencies added, or left out, at the top.

    Done here in a few lines: what imports a library of filters lets a first phrase wait for it.
    """
    step = math.gcd(RATE, rate)
    up, down = RATE // step, rate // step
    steps = -(-len(samples) // down) + rate // 100 // down + 1  # silence, into which it rings
    spectrum = np.fft.rfft(samples.astype(np.float64), steps * down)
    wave = np.fft.irfft(spectrum, steps * up)[: -(-len(samples) * up // down)]
    return np.asarray(wave * (up / down))


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
    peak = true_peak(samples)
    if peak == 0.0:
        return samples
    gain = 10.0 ** ((LOUDNESS_LUFS - loudness_lufs(samples)) / 20.0)
    return np.multiply(samples, min(gain, PHRASE_TRUE_PEAK / peak), dtype=np.float32)


def loudness_lufs(samples: Samples) -> float:
    """Loudness of a sound that is said over and over for 3 s, heard with both ears.

    ITU-R BS.1770-4: the two filters of its annex 1 at 48 kHz (tables 1 and 2, from memory; held
    against another implementation by the tests), then the mean of blocks of 0.4 s, of those that
    are louder than -70 LUFS and not more than 10 LU below the others' mean.
    """
    turn = np.exp(-2j * np.pi * np.arange(len(samples) // 2 + 1) / len(samples))
    spectrum = np.fft.rfft(samples.astype(np.float64))
    for over, under in _WEIGHTING:
        spectrum *= np.polyval(over[::-1], turn) / np.polyval(under[::-1], turn)
    power = np.fft.irfft(spectrum, len(samples)) ** 2
    total = np.concatenate([[0.0], np.cumsum(np.tile(power, -(-3 * RATE // len(samples))))])
    begins = np.arange(0, len(total) - _BLOCK, _BLOCK // 4)
    blocks = 2.0 * (total[begins + _BLOCK] - total[begins]) / _BLOCK
    blocks = blocks[blocks > 10.0 ** ((-70.0 + 0.691) / 10.0)]
    if not len(blocks):
        return -70.0
    return float(10.0 * np.log10(blocks[blocks > blocks.mean() / 10.0].mean()) - 0.691)


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
