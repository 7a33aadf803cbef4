"""Sound as Whisper takes it: the logarithm of its power in bands of the mel scale, over time.

Window, hop, number of bands and scaling: Radford et al. 2022, "Robust Speech Recognition via
Large-Scale Weak Supervision" (arXiv 2212.04356) and its published code; the scale and the
triangular bands of equal area: Slaney 1998, "Auditory Toolbox". All from memory.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from coach.ears.segments import RATE, Samples

SECONDS = 10.0
"""How much is looked at. Whisper was trained on thirty; ten take a sixth of the time to encode, and
whatever is cut out is shorter (`coach.ears.segments.LONGEST_S`)."""

_WIDTH = 400
_HOP = 160
_FRAMES = round(SECONDS * RATE / _HOP)
_LEAST = 1e-10
_STRAIGHT_HZ = 1000.0
"""Below this the scale is straight, above it logarithmic."""
_STRAIGHT_MEL = 15.0
_HZ_EACH = _STRAIGHT_HZ / _STRAIGHT_MEL
_STEP = np.log(6.4) / 27.0

Floats = npt.NDArray[np.float64]


def log_mel(samples: Samples, bands: int = 80) -> Samples:
    """The log-mel spectrum of the first ten seconds, filled up with silence.

    Args:
        samples: float32 at `coach.ears.segments.RATE`.
        bands: as many as the model was trained on.

    Returns:
        float32 of shape (bands, 1000), a column every 10 ms: log10 of the power, no lower than 8
        below the highest, plus 4, divided by 4.
    """
    wanted = _FRAMES * _HOP
    whole = np.zeros(wanted, np.float32)
    whole[: min(wanted, len(samples))] = samples[:wanted]
    padded = np.pad(whole, _WIDTH // 2, mode="reflect")
    # What comes after the sound is silent, and known without looking.
    heard = min(_FRAMES, (len(samples) + _WIDTH // 2) // _HOP + 1)
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WIDTH)[::_HOP][:heard]
    # A periodic window: one sample more, and the last one left out.
    spectrum = np.fft.rfft(frames * np.hanning(_WIDTH + 1)[:-1], axis=1)
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    logs = np.full((bands, _FRAMES), np.log10(_LEAST))
    logs[:, :heard] = np.log10(np.maximum(_filters(bands) @ power.T, _LEAST))
    return np.ascontiguousarray((np.maximum(logs, logs.max() - 8.0) + 4.0) / 4.0, dtype=np.float32)


@cache
def _filters(bands: int) -> Floats:
    """Triangles of equal area between neighbours on the mel scale, shape (bands, 201)."""
    edges = _hz(np.linspace(0.0, float(_mel(np.array(RATE / 2.0))), bands + 2))
    lines = np.linspace(0.0, RATE / 2.0, _WIDTH // 2 + 1)
    low, middle, high = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    rising, falling = (lines - low) / (middle - low), (high - lines) / (high - middle)
    return np.asarray(np.maximum(0.0, np.minimum(rising, falling)) * 2.0 / (high - low))


def _mel(hz: Floats) -> Floats:
    high = _STRAIGHT_MEL + np.log(np.maximum(hz, 1.0) / _STRAIGHT_HZ) / _STEP
    return np.where(hz >= _STRAIGHT_HZ, high, hz / _HZ_EACH)


def _hz(mel: Floats) -> Floats:
    high = _STRAIGHT_HZ * np.exp(_STEP * (mel - _STRAIGHT_MEL))
    return np.where(mel >= _STRAIGHT_MEL, high, mel * _HZ_EACH)
