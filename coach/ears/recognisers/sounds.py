"""Words as the sounds that they are made of: the 39 of the CMU Pronouncing Dictionary.

The dictionary is the one in pocketsphinx's English model (cmudict-en-us.dict, Carnegie Mellon,
BSD); sounds are written as there, in ARPAbet.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from importlib.util import find_spec
from pathlib import Path

PHONEMES = tuple(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W "
    "Y Z ZH".split()
)
"""Every sound; elsewhere a sound is its number in this row."""

NUMBER = {name: number for number, name in enumerate(PHONEMES)}

Sounds = tuple[int, ...]

_LETTERS = dict(
    zip(
        "abcdefghijklmnopqrstuvwxyz",
        "AE B K D EH F G HH IH JH K L M N AA P K R S T AH V W K IY Z".split(),
        strict=True,
    )
)
"""The sound a letter has most often, for what no dictionary knows: better than none at all."""


def found() -> Path | None:
    """Where the dictionary lies; None where it is not installed. Imports nothing."""
    spec = find_spec("pocketsphinx")
    for folder in (spec.submodule_search_locations or ()) if spec is not None else ():
        path = Path(folder, "model", "en-us", "cmudict-en-us.dict")
        if path.exists():
            return path
    return None


def sounds(words: Iterable[str]) -> Sounds:
    """The sounds of words, one after the other."""
    return tuple(sound for word in words for sound in of_word(word))


@cache
def of_word(word: str) -> Sounds:
    """The sounds of one word in lower case.

    What the dictionary does not have is put together from two words of it ("cross" and "wind"),
    the first one as long as can be, and if there are none from its letters.
    """
    if known := _known(word):
        return known
    for cut in range(len(word) - 2, 1, -1):
        one, other = _known(word[:cut]), _known(word[cut:])
        if one and other:
            return one + other
    return tuple(NUMBER[_LETTERS[letter]] for letter in word if letter in _LETTERS)


def _known(word: str) -> Sounds:
    return tuple(NUMBER[name] for name in _dictionary().get(word, "").split())


@cache
def _dictionary() -> dict[str, str]:
    path = found()
    lines = path.read_text(encoding="utf-8").splitlines() if path is not None else []
    return dict(line.split(" ", 1) for line in lines if " " in line)
