"""How long a phrase sounds, and when in it the word is heard that must land on a moment.

Most phrases begin with that word. In any other the three parts (what comes before, the word, what
comes after) are spoken alone by the same voice and laid end to end, and the phrase is aligned to
them by dynamic time warping over their spectra: where it crosses into the word, the word begins.
That works for every voice, whatever its engine tells, and a word said twice is not mistaken.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from coach.callouts.cuesheet import Measure, Phrase
from coach.sound.clip import RATE, Clip, Floats, Samples

_HOP = RATE // 100
_WINDOW = RATE // 40
_BANDS = 26
_LOWEST_HZ, _HIGHEST_HZ = 100.0, 8000.0
_FLOOR = 1e-5
_FASTEST = 3
"""A phrase says its parts at most this many times faster than they sound alone."""


def words(phrases: Iterable[Phrase]) -> list[str]:
    """What else must be spoken so that `measures` can find the words that land."""
    parts = (part for phrase in phrases for part in _parts(phrase))
    return list(dict.fromkeys(part for part in parts if part))


def measures(phrases: Iterable[Phrase], clips: Mapping[str, Clip]) -> dict[Phrase, Measure]:
    """What the voice makes of each phrase.

    Args:
        phrases: what is said; one that was not spoken is left out.
        clips: the sound of the phrases and of `words`, by their text. Where a part is missing, the
            word is assumed at its share of the phrase's letters.
    """
    return {
        phrase: Measure(clips[phrase.spoken].length_s, _lands_s(phrase, clips))
        for phrase in phrases
        if phrase.spoken in clips
    }


def _lands_s(phrase: Phrase, clips: Mapping[str, Clip]) -> float:
    if not phrase.lands:
        return 0.0
    sound = clips[phrase.spoken]
    parts = _parts(phrase)
    if not parts:
        return _first_sound_s(sound)
    if any(part and part not in clips for part in parts):
        before = phrase.spoken.index(phrase.lands)
        return sound.length_s * before / len(phrase.spoken)
    return _crossing_s(sound, [clips[part] if part else None for part in parts])


def _parts(phrase: Phrase) -> tuple[str, ...]:
    """Before the landing words, the words, after them; nothing where the phrase begins so."""
    if not phrase.lands or phrase.spoken.startswith(phrase.lands):
        return ()
    before, lands, after = phrase.spoken.partition(phrase.lands)
    return tuple(part.strip(" ,.;:") for part in (before, lands, after))


def _first_sound_s(sound: Clip) -> float:
    """When the first frame within 30 dB of the loudest one begins."""
    power = _frames(sound.samples).var(axis=1)
    return float(np.argmax(power > power.max() / 1000.0)) * _HOP / RATE


def _crossing_s(sound: Clip, parts: list[Clip | None]) -> float:
    """When the aligned phrase comes into the second of its three parts."""
    silence = np.full((1, _BANDS), np.log(_FLOOR))
    laid = [_spectra(part.samples) if part else silence[:0] for part in parts]
    before, word, after = laid
    alone = np.concatenate([before, silence, word, silence, after])
    path = _align(_spectra(sound.samples), alone)
    return float(np.searchsorted(path, len(before) + 1)) * _HOP / RATE


def _align(heard: Floats, alone: Floats) -> npt.NDArray[np.intp]:
    """For each heard frame the frame of ``alone`` it goes with, never decreasing.

    The path of least total distance from both beginnings to both ends; from one heard frame to the
    next it may stand still or go on by up to `_FASTEST` frames.
    """
    squares = (heard**2).sum(axis=1)[:, None] + (alone**2).sum(axis=1)
    squares -= 2.0 * np.einsum("ib,jb->ij", heard, alone)
    distance = np.sqrt(np.maximum(squares, 0.0))
    steps = np.empty(distance.shape, dtype=np.intp)
    total = np.full(len(alone), np.inf)
    total[0] = distance[0, 0]
    reach = np.full((_FASTEST + 1, len(alone)), np.inf)
    for row, costs in enumerate(distance[1:], start=1):
        for step in range(_FASTEST + 1):
            reach[step, step:] = total[: len(alone) - step]
        steps[row] = reach.argmin(axis=0)
        total = reach.min(axis=0) + costs
    path = np.empty(len(heard), dtype=np.intp)
    at = len(alone) - 1
    for row in range(len(heard) - 1, -1, -1):
        path[row] = at
        if row:
            at -= steps[row, at]
    return path


def _spectra(samples: Samples) -> Floats:
    """Logarithms of the power in bands as wide as the ear's, shape (frames, _BANDS)."""
    bands = _bands()
    spectrum = np.fft.rfft(_frames(samples) * np.hanning(_WINDOW))[:, : len(bands)]
    # Not "@": that spreads these small products over threads, which wait for a busy processor.
    power = np.einsum("tf,fb->tb", np.abs(spectrum) ** 2, bands)
    return np.asarray(np.log(power / _WINDOW + _FLOOR))


def _frames(samples: Samples) -> Samples:
    """Windows of `_WINDOW` samples around every `_HOP`-th one, shape (frames, _WINDOW)."""
    padded = np.pad(samples, (_WINDOW // 2, _WINDOW // 2))
    return np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::_HOP]


@lru_cache
def _bands() -> Floats:
    """Triangular bands, shape (frequencies, _BANDS), evenly spaced on the mel scale.

    That is 2595 log10(1 + f / 700), from memory.
    """
    lowest, highest = (2595.0 * np.log10(1.0 + hz / 700.0) for hz in (_LOWEST_HZ, _HIGHEST_HZ))
    edges = 700.0 * (10.0 ** (np.linspace(lowest, highest, _BANDS + 2) / 2595.0) - 1.0)
    hz = np.arange(0.0, _HIGHEST_HZ, RATE / _WINDOW)[:, None]
    rising = (hz - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - hz) / (edges[2:] - edges[1:-1])
    return np.clip(np.minimum(rising, falling), 0.0, None)
