"""Students of the tests: synthetic voices, and the noises of the rooms that they sit in.

espeak-ng is driven directly (its wheel comes with the coach), because pyttsx3 knows no variants
such as ``en-us+f2``. The coach's own voice is a student as well.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import cache
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, resample_poly, sosfilt

from coach.sound.clip import Samples, trim
from coach.sound.speakers import hibari
from tests.ears.engines import ENGINES

RATE = 16_000

ESPEAK_RATE = 22_050
ESPEAK, OTHERS = (str(Path(__file__).with_name(name)) for name in ("fresh_espeak.py", "engines.py"))

OWN = "heart"

TUNING = (("en-us", 175), ("en-us+f3", 165), ("en-us", 200), ("en-gb-x-rp+m5", 160),
          ("en-gb-scotland+f3", 165), ("en-029+m3", 155), (OWN, 160))  # fmt: skip
"""Thresholds and the grammar's weights are chosen on these."""

FORMANT = (
    ("en-us+m2", 170), ("en-us+f5", 185), ("en-gb-x-gbcwmd+m4", 150), ("en-gb-x-rp+f1", 175),
    ("en-gb-scotland+m8", 160), ("en-029+f2", 170), ("en-us-nyc+m3", 165), ("en-gb-x-gbclan+m1", 180),
)  # fmt: skip
RECORDED = (("flite rms", 160), ("flite slt", 160), ("flite awb", 160), ("flite slt", 190))
OWN_ALIKE = ((OWN, 195), ("heart high", 160), ("heart low", 150))
UNHEARD = (*FORMANT, *RECORDED, *OWN_ALIKE)
"""What is reported is measured on these, which nothing was chosen on. The coach's own are one
speaker at other speeds and pitches than the one in `TUNING`. Where the program flite is not
installed, the voices that it makes out of recorded speech are left out."""

FRESH = (
    ("piper joe", 165), ("nano en-US", 165), ("nano en-GB", 180), ("kokoro jm_kumo", 160),
    ("kokoro jf_alpha", 175), ("kokoro jf_nezumi", 150), ("festival ked_diphone", 165),
    ("flite kal16", 170), ("en-gb-scotland+edward", 165), ("en-029+linda", 175),
    ("en-gb-x-gbcwmd+steph", 160), ("en-us+paul", 185),
)  # fmt: skip
"""Speakers of six engines, five women among them, that nothing was chosen on and that were not
looked at before the ears were done: those of `tests.bench.ears`, as far as they are installed."""

_PITCHES = {"heart": 1.0, "heart high": 1.15, "heart low": 0.87}


def missing(voice: str) -> str:
    """What a voice needs and is not installed here; "" where it can speak."""
    engine = ENGINES.get(voice.partition(" ")[0])
    return engine.missing if engine else ""


_kept: list[Path] = []


def keep_in(folder: Path) -> None:
    """From now on keep everything that is spoken in a folder, and take it from there.

    A file is named by what is said and by whom, so that two checkouts can share a folder.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _kept[:] = [folder]


def say(text: str, voice: str = "en-us", words_per_minute: int = 175) -> Samples:
    """A phrase as float32 at 16 kHz, its louder parts at -26 dB of full scale, no silence around."""
    sound = trim(_kept_sound(text, voice, words_per_minute))
    return np.multiply(sound, 0.05 / level(sound), dtype=np.float32)


def _kept_sound(text: str, voice: str, words_per_minute: int) -> Samples:
    if not _kept:
        return _spoken(text, voice, words_per_minute)
    key = hashlib.sha256(f"{text}|{voice}|{words_per_minute}".encode()).hexdigest()
    file = _kept[0] / f"{key[:32]}.npy"
    if not file.exists():
        beside = file.with_suffix(f".{os.getpid()}.npy")
        np.save(beside, _spoken(text, voice, words_per_minute))
        beside.replace(file)
    return np.asarray(np.load(file), np.float32)


def _spoken(text: str, voice: str, words_per_minute: int) -> Samples:
    engine = voice.partition(" ")[0]
    if engine == OWN:
        return _own(text, words_per_minute, _PITCHES[voice])
    return (_other if engine in ENGINES else _espeak)(text, voice, words_per_minute)


def level(sound: Samples) -> float:
    """Root mean square of what is loud in it, from 0 to 1: the pauses between words do not count."""
    block = RATE // 50
    power = np.pad(sound.astype(np.float64), (0, -len(sound) % block)).reshape(-1, block) ** 2
    loud = power.mean(axis=1)
    return float(np.sqrt(loud[loud > loud.max() / 100].mean()))


@cache
def _espeak(text: str, voice: str, words_per_minute: int) -> Samples:
    # In a process of its own: what it spoke before would change a little how it speaks.
    command = [sys.executable, ESPEAK, text, voice, str(words_per_minute)]
    sound = subprocess.run(command, capture_output=True, check=True).stdout
    return _at_16k(np.frombuffer(sound, np.int16), ESPEAK_RATE)


@cache
def _engine() -> Any:
    return hibari.opened()


@cache
def _own(text: str, words_per_minute: int, pitch: float) -> Samples:
    slower = hibari.speed(words_per_minute / pitch)
    return _at_16k(_engine()(text, slower, seed=1), 50 * round(pitch * _engine().sample_rate / 50))


@cache
def _other(text: str, voice: str, words_per_minute: int) -> Samples:
    import soundfile

    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/said.wav"
        command = [sys.executable, OTHERS, text, voice, str(words_per_minute), out]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        sound, rate = soundfile.read(out, dtype="int16")
    return _at_16k(sound, rate)


def _at_16k(sound: npt.NDArray[Any], rate: int) -> Samples:
    step = gcd(rate, RATE)
    return resample_poly(sound.astype(np.float64) / 32_768, RATE // step, rate // step).astype(
        np.float32
    )


CHATTER = (
    "The kettle is on the stove and the bread is still warm, so come in and sit down.",
    "We walked along the river until the bridge, and then it started to rain again.",
    "She said that the letter came on Tuesday, but nobody had opened it before the weekend.",
    "If you paint the fence this summer, you will not have to do it again for years.",
    "The neighbours have a small dog that barks at every bicycle in the street.",
    "I would rather read a book in the garden than watch another film tonight.",
    "They are planting apple trees behind the school, and the children water them.",
    "There was a long queue at the baker, so I bought nothing and went home.",
    "My brother plays the violin, although he has never learned to read music.",
    "Please remember to close the window when you leave, because the cat is outside.",
)
"""Unrelated speech."""


def noise(kind: str, count: int) -> Samples:
    """Quiet, babble, engine or fan; 1 is its root mean square."""
    random = np.random.default_rng(3)
    if kind == "babble":
        return _unit(_babble(count))
    if kind == "fan":
        sound = sosfilt(butter(1, 400, fs=RATE, output="sos"), random.normal(size=count))
        return _unit(sound + 0.3 * np.sin(2 * np.pi * 97 * np.arange(count) / RATE))
    if kind == "engine":
        # A four-cylinder engine at 2,400 revolutions a minute fires 80 times a second.
        time = np.arange(count) / RATE
        wander = np.cumsum(random.normal(size=count)) * 0.002
        tones = sum(np.sin(2 * np.pi * 40 * k * time + k * wander) / k for k in range(1, 40))
        rough = sosfilt(
            butter(2, [100, 2500], "band", fs=RATE, output="sos"), random.normal(size=count)
        )
        return _unit(tones + 1.5 * rough)
    raise ValueError(kind)


NOISES = ("babble", "engine", "fan")


@cache
def _babble(count: int) -> Samples:
    voices = ("en-us+m1", "en-us+f1", "en-gb-x-rp+m2", "en-gb-scotland+f4", "en-029+m4", "en-us+m6")
    whole = np.zeros(count, np.float32)
    for shift, voice in enumerate(voices):
        speech = chatter(count / RATE, voice, 160 + 5 * shift, shift)
        whole += speech[:count]
    return whole


def chatter(
    seconds: float,
    voice: str,
    words_per_minute: int,
    shift: int = 0,
    sentences: Sequence[str] = CHATTER,
) -> Samples:
    """Unrelated speech with short pauses, as long as that."""
    parts: list[Samples] = []
    count, number = 0, shift
    while count < seconds * RATE:
        sentence = sentences[number % len(sentences)]
        parts.append(say(sentence, voice, words_per_minute))
        parts.append(np.zeros(round((0.3 + 0.1 * (number % 5)) * RATE), np.float32))
        count += len(parts[-1]) + len(parts[-2])
        number += 3 if number % 2 else 1
    return np.concatenate(parts)[: round(seconds * RATE)]


def _unit(sound: npt.NDArray[Any]) -> Samples:
    return np.asarray(sound / np.sqrt(np.mean(np.square(sound))), dtype=np.float32)
