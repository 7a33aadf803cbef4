"""The voices of Windows and macOS, through pyttsx3."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from coach.sound.speakers import Voice

ONCE = True


def voices() -> list[Voice]:
    """Every voice of the system, in its order."""
    engine = _open()
    return [
        Voice(one.name, one.id, __name__, str(engine), _language(one), "part of the system")
        for one in engine.getProperty("voices")
    ]


def speak(texts: list[str], folder: Path, voice: str, words_per_minute: int) -> Iterator[int]:
    """Write each text to ``folder`` and yield its number; see `coach.sound.speakers`."""
    engine = _open()
    engine.setProperty("voice", voice or _usual(engine))
    engine.setProperty("rate", words_per_minute)
    for number, text in enumerate(texts):
        engine.save_to_file(text, str(folder / str(number)))
    # Once for all of them, as for the whole process.
    engine.runAndWait()
    yield from range(len(texts))


def _open() -> Any:
    import pyttsx3

    return pyttsx3.init()


def _usual(engine: Any) -> str:
    """The id of the system's own choice if that speaks English, else of one that does."""
    own = engine.getProperty("voice")
    english = [one.id for one in engine.getProperty("voices") if _language(one)[:2] == "en"]
    return str(own if own in english or not english else english[0])


def _language(voice: Any) -> str:
    return str(voice.languages[0]).lower().replace("_", "-") if voice.languages else ""
