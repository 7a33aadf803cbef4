"""The coach's own voice, the same on every platform: it lies whole in the wheel of hibari-tts."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as version_of
from pathlib import Path
from typing import Any

import numpy as np

from coach.sound.speakers import Voice

_PACKAGE = "hibari-tts"

_VOICE = "heart"
"""The only one in the wheel; the package would fetch its others from the network."""

_SEED = 1

_PAUSE_S = 0.2
"""Between the sentences of a phrase, in place of the half second that they bring along."""

_SPEEDS = (
    (80, 0.5), (97, 0.6), (111, 0.7), (130, 0.8), (155, 0.9), (163, 1.0), (169, 1.1), (180, 1.2),
    (189, 1.3), (191, 1.32), (232, 1.34), (241, 1.4), (252, 1.6), (260, 1.8), (277, 2.0),
)  # fmt: skip
"""Words a minute, measured on the library's callouts, and the engine's speed that gives them. A
sound lasts a whole number of the engine's frames, many of them two: above 4/3 those become one."""

PRONUNCIATIONS = {
    "buffet": "bˈʌfət",
    "chandelle": "ʃændˈɛl",
    "maneuvering": "mənˈuvəɹɪŋ",
    "minute": "mˈɪnət",
    "obstacle": "ˈɑbstəkᵊl",
    "read": "ɹˈid",
    "wind": "wˈɪnd",
}
"""What the engine's lexicon has wrong, or tells by grammar where the trade has one sense: the wind
is always the air, a buffet always the airframe's, "read" always an order. In the engine's letters
for sounds, which are mostly those of the International Phonetic Alphabet."""


@lru_cache
def version() -> str:
    """That of the engine and its voice, "" where they are missing."""
    try:
        return version_of(_PACKAGE)
    except PackageNotFoundError:
        return ""


def voices() -> list[Voice]:
    """The one voice, or none where the package is missing; the licence is that of its wheel."""
    if not version():
        return []
    return [Voice(_VOICE, _VOICE, __name__, _PACKAGE, "en-us", "Apache-2.0", True)]


def speak(texts: list[str], folder: Path, voice: str, words_per_minute: int) -> Iterator[int]:
    """Write each text to ``folder`` and yield its number; see `coach.sound.speakers`."""
    import soundfile

    from coach.sound.clip import trim

    engine = opened()
    pause = np.zeros(round(_PAUSE_S * engine.sample_rate), dtype=np.float32)
    for number, text in enumerate(texts):
        pieces = [pause[:0]]
        # The same noise for every text, whatever was spoken before it.
        for sentence in engine.stream(text, speed(words_per_minute), _SEED):
            pieces += [pause, trim(sentence)]
        sound = np.concatenate(pieces)[len(pause) :]
        soundfile.write(folder / str(number), sound, engine.sample_rate, format="WAV")
        yield number


@lru_cache
def opened() -> Any:
    """The engine with the trade's pronunciations; it takes a second, once in a process."""
    # Imported here: listing voices needs neither.
    import onnxruntime
    from hibari import Hibari

    onnxruntime.disable_telemetry_events()  # on Windows it would tell its maker of its use
    engine = Hibari(_VOICE)
    engine.g2p.lexicon.golds.d.update(PRONUNCIATIONS)
    return engine


def speed(words_per_minute: float) -> float:
    """The engine's speed for a tempo, from 0.5 to 2; 1 is its own."""
    tempos, speeds = zip(*_SPEEDS, strict=True)
    return float(np.interp(words_per_minute, tempos, speeds))
