"""The speech engines, one module each; only the worker's process ever imports one.

A speaker is a module with two functions:

- ``voices() -> list[Voice]``: its voices on this machine; none where it is not installed.
- ``speak(texts, folder, voice, words_per_minute) -> Iterator[int]``: writes text number n to the
  sound file ``folder / str(n)`` and yields n as soon as that file is whole. ``voice`` is a
  `Voice.id`. Without texts it wakes its engine, and no more.

One with ``ONCE = True`` has an engine that may hang when it speaks a second time: it is given a
process of its own for each task.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Voice:
    """Something that speaks.

    Attributes:
        name: shown to the student, and typed to choose it.
        id: the engine's own word for it; "" for whichever the engine uses where none is chosen.
        speaker: the module that speaks with it.
        engine: what synthesises it.
        language: such as ``en-us``; "" where the engine does not tell.
        licence: of the engine, and of the voice where that has its own.
        usual: it speaks where no voice is chosen.
    """

    name: str
    id: str
    speaker: str
    engine: str = ""
    language: str = ""
    licence: str = ""
    usual: bool = False

    @property
    def english(self) -> bool:
        """Whether it speaks English."""
        return self.language.startswith("en")
