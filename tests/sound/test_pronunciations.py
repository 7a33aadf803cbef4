"""Promises of the words of the trade, in the coach's own voice.

Held against the CMU Pronouncing Dictionary as pocketsphinx brings it along (cmudict-en-us.dict,
http://www.speech.cs.cmu.edu/cgi-bin/cmudict). What it lacks is put together from its own words.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from coach.sound.speakers import hibari

SOUNDS = {
    "AA": "ɑɔ", "AE": "æ", "AH": "ʌəᵊɐɪᵻ", "AO": "ɔɑ", "AW": "W", "AY": "I", "B": "b", "CH": "ʧ",
    "D": "dT", "DH": "ð", "EH": "ɛ", "ER": "ɜəɹ", "EY": "A", "F": "f", "G": "ɡ", "HH": "h",
    "IH": "ɪᵻə", "IY": "i", "JH": "ʤ", "K": "k", "L": "l", "M": "m", "N": "n", "NG": "ŋ",
    "OW": "O", "OY": "Y", "P": "p", "R": "ɹ", "S": "s", "SH": "ʃ", "T": "tT", "TH": "θ", "UH": "ʊ",
    "UW": "u", "V": "v", "W": "w", "Y": "j", "Z": "z", "ZH": "ʒ",
}  # fmt: skip
"""The dictionary's sounds in the engine's letters; a vowel without stress is written in many ways."""

SAID = [
    ("One zero two knots.", "one zero two knots", ""),
    ("Nine.", "nine", ""),
    ("Right aileron, then both ailerons neutral.", "right aileron then both ailerons neutral", ""),
    ("Upwind, no crab.", "up wind no crab", ""),
    ("Downwind. Turn base.", "down wind turn base", ""),
    ("Crosswind.", "cross wind", ""),
    ("Mayday.", "may day", ""),
    ("Carburetor heat off.", "carburetor heat off", ""),
    ("More right rudder.", "more right rudder", ""),
    ("A little more back pressure.", "a little more back pressure", ""),
    ("Chandelle, to the right.", "shan dell to the right", ""),
    ("Flare.", "flare", ""),
    ("Obstacle ahead.", "obstacle a head", ""),
    ("Above maneuvering speed.", "above maneuvering speed", ""),
    ("Throttle idle, pitch for best glide.", "throttle idle pitch for best glide", ""),
    ("Lead the heading.", "lead the heading", "L IY D"),
    ("Fifty feet of lead.", "fifty feet of lead", "L IY D"),
    ("Close the throttle.", "close the throttle", "K L OW Z"),
    ("Close to the stall.", "close to the stall", "K L OW S"),
    ("Now read the altimeter.", "now read the altimeter", "R IY D"),
    ("Now read.", "now read", "R IY D"),
    ("Wind one eight zero at eight.", "wind one eight zero at eight", "W IH N D"),
    ("First pylon right, wind calm.", "first pylon right wind calm", "W IH N D"),
    ("Use right rudder.", "use right rudder", "Y UW Z"),
    ("The runway in use.", "the runway in use", "Y UW S"),
    ("One minute.", "one minute", "M IH N AH T"),
    ("At the buffet, lower the nose.", "at the buffet lower the nose", "B AH F AH T"),
]
"""What the coach says, in words of the dictionary, and which of two pronunciations is meant."""

TWOFOLD = {"lead", "close", "read", "wind", "use", "minute", "buffet"}


@cache
def engine() -> Any:
    return hibari.opened()


@cache
def dictionary() -> dict[str, list[str]]:
    model = Path(pytest.importorskip("pocketsphinx").get_model_path())
    known: dict[str, list[str]] = {}
    for line in next(model.rglob("cmudict-en-us.dict")).read_text(encoding="utf-8").splitlines():
        word, _, sounds = line.partition(" ")
        known.setdefault(re.sub(r"\(\d\)", "", word), []).append(sounds)
    return known


def pattern(word: str, meant: str) -> str:
    """What the engine may write for a word, as a regular expression."""
    ways = dictionary()[word]
    if word in TWOFOLD and meant:
        assert meant in ways, (word, ways)
        ways = [meant]
    # A vowel of "ER" is two letters, and an "l" or "n" may stand for a whole syllable.
    spelt = ("".join(f"[{SOUNDS[sound]}]+" for sound in way.split()) for way in ways)
    return f"(?:{'|'.join(spelt)})"


@pytest.mark.parametrize(("text", "words", "meant"), SAID)
def test_a_word_of_the_trade_is_said_as_the_dictionary_has_it(
    text: str, words: str, meant: str
) -> None:
    said = re.sub(r"[^\w]|[ˈˌː]", "", "".join(engine().phonemize(text)))
    assert re.fullmatch("".join(pattern(word, meant) for word in words.split()), said), said


def test_niner_is_nine_and_a_syllable() -> None:
    # ICAO Annex 10 volume II, 5.2.1.4: NIN-er (from memory).
    nine, niner = (engine().phonemize(word)[0] for word in ("Nine", "Niner"))
    assert niner == f"{nine}əɹ"


def test_every_word_of_the_table_is_said_so_in_any_place() -> None:
    for word, sounds in hibari.PRONUNCIATIONS.items():
        for text in (word, f"{word.capitalize()}.", f"Now {word}, then {word} the nose."):
            assert sounds in " ".join(engine().phonemize(text)), text
