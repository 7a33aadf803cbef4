"""The voices of the operating system, through pyttsx3; on Linux those of espeak-ng from a wheel."""

from __future__ import annotations

import ctypes
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from coach.sound.speakers import Voice

# Licences: the COPYING file of espeak-ng; the other engines come with the system itself.
_ENGINES = {
    "espeak": ("espeak-ng", "GPL-3.0-or-later"),
    "sapi5": ("Windows speech", "part of Windows"),
    "nsss": ("macOS speech", "part of macOS"),
    "avspeech": ("macOS speech", "part of macOS"),
}


def voices() -> list[Voice]:
    """Every voice of the system's engine, in the engine's order."""
    engine = _open()
    name, licence = _ENGINES[str(engine)]
    usual = _usual(engine)
    return [
        Voice(one.name, one.id, __name__, name, _language(one), licence, one.id == usual)
        for one in engine.getProperty("voices")
    ]


def speak(texts: list[str], folder: Path, voice: str, words_per_minute: int) -> Iterator[int]:
    """Write each text to ``folder`` and yield its number; see `coach.sound.speakers`."""
    engine = _open()
    engine.setProperty("voice", voice or _usual(engine))
    engine.setProperty("rate", words_per_minute)
    # The espeak driver keeps only the last text of a queue, so each is run by itself; the
    # others take a queue, and may hang when run a second time.
    one_by_one = str(engine) == "espeak"
    for number, text in enumerate(texts):
        engine.save_to_file(text, str(folder / str(number)))
        if one_by_one:
            _let_espeak_finish()
            engine.runAndWait()
            yield number
    if not one_by_one:
        engine.runAndWait()
        yield from range(len(texts))


def lend_espeak() -> None:
    """Put the library from the espeakng-loader wheel where pyttsx3's espeak driver will find it.

    A library already loaded is found by its name, so no system package is needed.
    """
    import espeakng_loader

    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()


def _open() -> Any:
    if sys.platform == "linux":
        lend_espeak()
    import pyttsx3

    return pyttsx3.init()


def _usual(engine: Any) -> str:
    """The id of the engine's own choice if that speaks English, else of one that does."""
    own = engine.getProperty("voice")
    english = [one.id for one in engine.getProperty("voices") if _language(one)[:2] == "en"]
    return str(own if own in english or not english else english[0])


def _language(voice: Any) -> str:
    return str(voice.languages[0]).lower().replace("_", "-") if voice.languages else ""


def _let_espeak_finish() -> None:
    """Wait until espeak's own thread rests.

    Its driver cancels a text that is begun while that thread is still busy with a setting or with
    the end of the text before, and the phrase is then empty or missing.
    """
    from pyttsx3.drivers import _espeak

    while _espeak.IsPlaying():
        time.sleep(0.001)
