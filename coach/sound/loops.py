"""What the bed is made of: a noise or a few harmonics that go round without a seam."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache

import numpy as np

from coach.sound.clip import RATE, Floats, Samples

AIRFLOW_SIZE = 2**19
"""Samples: 11 s, longer than an ear remembers a noise."""

FLUTTER_SIZE = 2**18

_CYCLE_SIZE = 2**12  # a hundred samples for a period of the highest harmonic in it


def read(name: str, turns: Floats) -> Samples:
    """A loop at places given in turns, between its samples by a straight line.

    Its sounds lie so far below half the sample rate that what the line adds to them is 50 dB
    weaker.

    Args:
        name: ``"airflow"``, ``"engine"``, ``"balance"`` or ``"flutter"``.
        turns: shape (n,); whole turns change nothing.

    Returns:
        Shape (n, 2), or (n, 1) where both ears hear the same; never beyond plus and minus 1.
    """
    loop = _loop(name)
    at = turns % 1.0 * (len(loop) - 1)
    index = at.astype(np.intp)
    share = (at - index).astype(np.float32)[:, None]
    here = loop[index]
    return here + (loop[index + 1] - here) * share


@cache
def _loop(name: str) -> Samples:
    """A loop with its peak at 1 and its first sample again at its end, shape (n + 1, 1 or 2)."""
    ears = np.array(list(_LOOPS[name]()))
    ears /= np.abs(ears).max()
    return np.ascontiguousarray(np.hstack([ears, ears[:, :1]]).T, dtype=np.float32)


def _airflow() -> Iterator[Samples]:
    """A noise for each ear with the most around 450 Hz."""
    pitch = _hz(AIRFLOW_SIZE, 8000.0) / 450.0
    for ear in range(2):
        yield _noise(pitch / (1.0 + pitch**2) ** 1.25, AIRFLOW_SIZE, seed=ear)


def _engine() -> Iterator[Samples]:
    """One cycle: the firings, every fourth harmonic, and a little of what lies between them."""
    order = np.arange(1, 41)
    strength = np.where(order % 4 == 0, 1.0, 0.15) / np.maximum(order, 4) ** 0.8
    yield _noise(np.append(0.0, strength), _CYCLE_SIZE, seed=2)


def _balance() -> Iterator[Samples]:
    """An octave with its fifth."""
    yield _noise(np.array([0.0, 0.0, 1.0, 0.4, 0.25]), _CYCLE_SIZE, seed=3)


def _flutter() -> Iterator[Samples]:
    """A rattle: about 14 uneven knocks a second of noise from 150 to 500 Hz."""
    octaves = np.log2(np.maximum(_hz(FLUTTER_SIZE, 2000.0), 1.0) / 270.0)
    noise = _noise(np.exp(-1.6 * octaves**2), FLUTTER_SIZE, seed=4)
    time = np.arange(RATE // 4) / RATE
    knock = (1.0 - np.exp(-time / 0.003)) * np.exp(-time / 0.025)
    random = np.random.default_rng(5)
    strength = np.zeros(FLUTTER_SIZE, dtype=np.float32)
    count = round(14.0 * FLUTTER_SIZE / RATE)
    for start in (np.arange(count) + random.uniform(-0.3, 0.3, count)) / count * FLUTTER_SIZE:
        at = (int(start) + np.arange(len(knock))) % FLUTTER_SIZE
        strength[at] += random.uniform(0.6, 1.0) * knock
    yield noise * strength


def _hz(size: int, highest: float) -> Floats:
    """The harmonics of a loop of that many samples, from the constant on."""
    return np.arange(0.0, highest, RATE / size)


def _noise(strength: Floats, size: int, seed: int) -> Samples:
    """Harmonics of these strengths, from the constant on, at random phases."""
    # In single precision, twice as fast: the first sound waits for this.
    turns = np.random.default_rng(seed).random(len(strength), dtype=np.float32)
    harmonics = strength.astype(np.float32) * np.exp(np.complex64(2j * np.pi) * turns)
    return np.asarray(np.fft.irfft(harmonics, size), dtype=np.float32)


_LOOPS: Mapping[str, Callable[[], Iterator[Samples]]] = {
    "airflow": _airflow,
    "engine": _engine,
    "balance": _balance,
    "flutter": _flutter,
}
