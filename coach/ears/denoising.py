"""Steady noise, such as a fan's, taken off an utterance."""

from __future__ import annotations

import numpy as np
from scipy.signal import istft, stft

from coach.ears.segments import MARGIN_S, RATE, Samples

_WINDOW = 512
_STEP = 128
_FLOOR = 0.3
"""What is taken for noise is not silenced but brought down to this: holes in the sound would be
taken for consonants. Less and more were tried, and both were understood less well."""

_CLEAN_DB = 20.0
"""Where an utterance stands out so far, it is better left alone."""


def denoised(samples: Samples) -> Samples:
    """An utterance with its noise brought down, by a Wiener filter in each band and moment.

    Args:
        samples: float32 at `RATE`; its first `MARGIN_S` is taken for noise alone.
    """
    _, _, bands = stft(samples, RATE, nperseg=_WINDOW, noverlap=_WINDOW - _STEP)
    power = np.abs(bands) ** 2
    noise = power[:, : round(MARGIN_S * RATE / _STEP) - 1].mean(axis=1, keepdims=True)
    if power.mean() > noise.mean() * 10.0 ** (_CLEAN_DB / 10.0):
        return samples
    padded = np.pad(power, ((0, 0), (1, 1)), "edge")
    smooth = (padded[:, :-2] + power + padded[:, 2:]) / 3.0
    gain = np.sqrt(np.maximum(_FLOOR**2, 1.0 - noise / np.maximum(smooth, 1e-15)))
    _, quieter = istft(bands * gain, RATE, nperseg=_WINDOW, noverlap=_WINDOW - _STEP)
    return np.asarray(quieter[: len(samples)], dtype=np.float32)
