"""The tones: ``python -m coach.sound.tones FOLDER`` makes the files of ``audio_cues/`` anew.

A tone is a sum of pitches that glide or stand still, under a soft attack and a decay.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile

from coach.problems import Problem, nearest
from coach.shelf import data_folder, found, shipped
from coach.sound.clip import RATE, Clip, Samples, level_tone, read

ENDING = ".wav"


def tone(name: str) -> Clip:
    """A tone by the name of its file, the student's own folder before the coach's.

    Raises:
        Problem: no such tone, or its file holds no sound.
    """
    for folder in _folders():
        for path in found(folder, f"{name}{ENDING}"):
            return _load(path, path.stat().st_mtime_ns)
    names = {path.stem for folder in _folders() for path in found(folder, f"*{ENDING}")}
    raise Problem(f"There is no tone called {name}{nearest(name, names)}")


def _folders() -> tuple[Path, Path]:
    return data_folder() / "audio_cues", shipped("audio_cues")


@lru_cache(maxsize=32)
def _load(path: Path, _changed_ns: int) -> Clip:
    try:
        samples = read(path)
    except (OSError, soundfile.LibsndfileError) as error:
        raise Problem(f"The tone {path} cannot be read as a WAV file.") from error
    if not len(samples):
        raise Problem(f"The tone {path} holds no sound.")
    return Clip(level_tone(samples))


def _glide(
    from_hz: float, to_hz: float, length_s: float, attack_s: float, decay_s: float
) -> Samples:
    """One pitch moving evenly in frequency, rising in ``attack_s`` and dying by ``decay_s``."""
    t = np.arange(round(length_s * RATE)) / RATE
    phase = 2 * np.pi * (from_hz * t + (to_hz - from_hz) * t**2 / (2 * length_s))
    attack = np.sin(np.pi / 2 * np.clip(t / attack_s, 0, 1)) ** 2
    release = np.clip((length_s - t) / 0.01, 0, 1)
    return np.asarray(np.sin(phase) * attack * np.exp(-t / decay_s) * release, dtype=np.float32)


def _tones() -> Iterator[tuple[str, Samples]]:
    # It begins with the name of its checkpoint, so it sounds where speech has little, from 3,200
    # down to 2,400 Hz, and is over before the first vowel. The glide lets a recording show its
    # place to well under a millisecond; a steady pitch would look alike one period earlier or
    # later. The low knock in its first hundredth of a second is for ears that hear little above
    # 2,000 Hz.
    ping = _glide(3200, 1100, 0.120, attack_s=0.002, decay_s=0.010)
    knock = _glide(1200, 1200, 0.120, attack_s=0.002, decay_s=0.005)
    yield "checkpoint", ping + np.float32(0.35) * knock
    low, high = (_glide(hz, hz, 0.140, attack_s=0.006, decay_s=0.060) for hz in (523, 784))
    yield "start", np.concatenate([low, high])
    yield "end", np.concatenate([high, low])
    # It reminds, and hides no word: low, and without a beginning that would startle.
    yield "off", _glide(330, 294, 0.300, attack_s=0.060, decay_s=0.150)
    # A knock on wood: two pitches that are no chord, gone before they are notes. The higher one is
    # what is heard of it under speech.
    high, low = (_glide(hz, hz, 0.015, attack_s=0.001, decay_s=0.006) for hz in (3100, 1150))
    yield "tick", high + np.float32(0.2) * low


def make(folder: Path) -> None:
    """Write every tone the coach ships into ``folder``, as 16-bit mono WAV."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, samples in _tones():
        soundfile.write(folder / f"{name}{ENDING}", level_tone(samples), RATE, subtype="PCM_16")


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else shipped("audio_cues"))
