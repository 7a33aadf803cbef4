"""The voices of espeak-ng, from a wheel: on Linux nothing else need be installed to speak."""

from __future__ import annotations

import ctypes
import os
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from coach.sound.speakers import Voice

_USUAL = "gmw/en"

_OTHER_LETTERS = "en-shaw"
"""English in letters that no script is written in: this voice cannot read a callout."""


def voices() -> list[Voice]:
    """The voices of espeak-ng, in its order; the licence is that of its COPYING file."""
    espeak, _ = _open()
    found = []
    for one in espeak.ListVoices(None):
        name, identifier = one.name.decode(), one.identifier.decode().lower()
        language = one.languages[1:].decode()  # a byte of priority comes first
        if language == _OTHER_LETTERS:
            continue
        found.append(Voice(name, identifier, __name__, "espeak-ng", language, "GPL-3.0-or-later"))
    return found


def speak(texts: list[str], folder: Path, voice: str, words_per_minute: int) -> Iterator[int]:
    """Write each text to ``folder`` and yield its number; see `coach.sound.speakers`."""
    espeak, rate = _open()
    pieces: list[bytes] = []

    def take(samples: Any, count: int, _events: Any) -> int:
        if count > 0:
            pieces.append(ctypes.string_at(samples, 2 * count))
        return 0

    espeak.SetSynthCallback(take)
    espeak.SetVoiceByName((voice or _USUAL).encode())
    espeak.SetParameter(espeak.RATE, words_per_minute, 0)
    for number, text in enumerate(texts):
        pieces.clear()
        espeak.Synth(text.encode(), flags=espeak.ENDPAUSE | espeak.CHARS_UTF8)
        with wave.open(str(folder / str(number)), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(rate)
            file.writeframes(b"".join(pieces))
        yield number


def lend_espeak() -> None:
    """Put the library from the espeakng-loader wheel where pyttsx3 will find it.

    A library already loaded is found by its name, so no system package is needed.
    """
    import espeakng_loader

    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()


def _open() -> tuple[Any, int]:
    """Pyttsx3's binding to espeak, and the samples a second it will give.

    Its driver lets espeak work in a thread of its own, and when that is late a text is lost, or
    ends up in the file of the next one. Here a text is spoken before the call returns.
    """
    lend_espeak()
    from pyttsx3.drivers import _espeak

    return _espeak, _espeak.Initialize(_espeak.AUDIO_OUTPUT_SYNCHRONOUS, 1000)
