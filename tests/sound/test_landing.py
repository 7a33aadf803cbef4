"""Promises of the landing: where in a phrase the word is that must be heard on its moment.

Checked against pocketsphinx, a recogniser with its own model of English, which is told the words
and aligns them with the sound. It may count a silence before a word, such as that of a plosive, as
part of the word; what is promised is the first sound, so that is looked for from there on.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np
import pytest
from pocketsphinx import Decoder
from scipy.signal import resample_poly

from coach.callouts.cuesheet import Phrase
from coach.sound import landing
from coach.sound.clip import RATE, Clip
from coach.sound.voices import speak

AHEAD_S = 0.3


def phrase(text: str, lands: str) -> Phrase:
    return Phrase(text, text, lands)


INSIDE = [
    phrase("Bank thirty, nose falling through ninety.", "ninety"),
    phrase("Coming up on forty five.", "forty five"),
    phrase("Now one thirty five, nose comes up slowly.", "one thirty five"),
    phrase("Roll out, one eighty. Wings level.", "one eighty"),
    phrase("Ease the nose down to ninety, bank thirty.", "ninety"),
    phrase("Power idle, stall. Nose down.", "stall"),
    phrase("Hold it, rolled out. Look left.", "rolled out"),
    phrase("Two eighty next, now one eighty, halfway.", "one eighty"),
    phrase("The nose is on the horizon and the wings are level.", "wings"),
    phrase("Slowly, slowly, first turn, four thousand feet.", "first turn"),
]
FIRST = [
    phrase("Forty five. Highest pitch. Let the nose fall, keep rolling.", "Forty five"),
    phrase("One thirty five. Lowest pitch.", "One thirty five"),
    phrase("Stall. Nose down. Full power.", "Stall"),
    phrase("Second turn. One more.", "Second turn"),
]


def spelled(text: str) -> list[str]:
    return re.sub("[^a-z ]", " ", text.lower()).split()


@lru_cache
def decoder() -> Decoder:
    return Decoder(samprate=16000, cmn="batch", loglevel="FATAL")  # else it remembers other phrases


def recognised_s(clip: Clip, one: Phrase) -> float | None:
    """When the recogniser hears the landing words; None where it cannot align the phrase."""
    ahead = np.zeros(round(AHEAD_S * 16000))
    sound = np.concatenate([ahead, resample_poly(clip.samples, 1, RATE // 16000), ahead])
    # It gives up on perfect silence; this is 80 dB below full scale.
    sound += np.random.default_rng(0).normal(0.0, 1e-4, len(sound))
    decoder().set_align_text(" ".join(spelled(one.spoken)))
    decoder().start_utt()
    decoder().process_raw((sound * 32767).astype(np.int16).tobytes(), full_utt=True)
    decoder().end_utt()
    heard = [part for part in decoder().seg() or () if part.word[0] not in "<[("]
    if [re.sub(r"\(\d\)", "", part.word) for part in heard] != spelled(one.spoken):
        return None
    before = spelled(one.spoken[: one.spoken.index(one.lands)])
    start: int = max(0, round((heard[len(before)].start_frame / 100 - AHEAD_S) * RATE))
    size = np.abs(clip.samples)
    first = start + int(np.argmax(size[start:] > 0.01 * size.max()))
    return first / RATE


def spoken(phrases: list[Phrase], voice: str | None, rate: int) -> Mapping[str, Clip]:
    texts = [one.spoken for one in phrases] + landing.words(phrases)
    made = speak(texts, voice=voice, words_per_minute=rate, limit_s=120)
    assert made.note is None, made.note
    return made.clips


def check(phrases: list[Phrase], voice: str | None, rate: int) -> None:
    clips = spoken(phrases, voice, rate)
    measured = landing.measures(phrases, clips)
    errors: list[float] = []
    for one in phrases:
        expected = recognised_s(clips[one.spoken], one)
        if expected is not None:
            errors.append(abs(measured[one].lands_s - expected))
            assert errors[-1] <= 0.1, (one.spoken, measured[one].lands_s, expected)
    assert len(errors) >= len(phrases) / 2 and np.median(errors) <= 0.03


@pytest.mark.parametrize("rate", [140, 180, 240])
@pytest.mark.parametrize("place", ["America", "Great Britain"])
def test_the_landing_is_within_100_ms_of_where_a_recogniser_hears_it(place: str, rate: int) -> None:
    check(INSIDE + FIRST, f"English ({place})", rate)


@pytest.mark.parametrize("rate", [140, 180])
def test_so_it_is_with_the_coachs_own_voice(rate: int) -> None:
    check(INSIDE + FIRST, None, rate)


def test_a_phrase_that_begins_with_its_landing_word_needs_nothing_else_spoken() -> None:
    assert landing.words([*FIRST, Phrase("Bank", "bank")]) == []
    clips = spoken(FIRST, "English (America)", 180)
    for one, measure in landing.measures(FIRST, clips).items():
        assert measure.length_s == clips[one.spoken].length_s
        assert 0.0 <= measure.lands_s < 0.06


def test_a_word_said_twice_is_found_where_it_lands() -> None:
    one = phrase("Now one eighty. Two seventy next.", "Two seventy")
    twice = phrase("Two seventy next, then two seventy.", "two seventy")
    clips = spoken([one, twice], "English (America)", 180)
    measured = landing.measures([twice], clips)[twice]
    assert measured.lands_s > 0.5 * measured.length_s


def test_without_the_parts_the_word_is_assumed_at_its_share_of_the_letters() -> None:
    one = phrase("Bank and pitch. Ninety.", "Ninety")
    clip = Clip(np.ones(2 * RATE, dtype=np.float32))
    measured = landing.measures([one, phrase("Not spoken.", "")], {one.spoken: clip})
    assert list(measured) == [one]
    assert measured[one].lands_s == pytest.approx(2.0 * 16 / 23)


def test_the_phrases_of_a_rehearsal_are_measured_in_no_time() -> None:
    clips = spoken(INSIDE, "English (America)", 180)
    landing.measures(INSIDE[:1], clips)
    # In half the time that one spectrum of each whole phrase takes, which is no faster on a slow
    # machine either: 0.06 s for ten of these. A rehearsal seldom has any.
    spectra = min(
        _processor_s(lambda: [np.fft.fft(clips[one.spoken].samples) for one in INSIDE])
        for _ in range(3)
    )
    took = min(_processor_s(lambda: landing.measures(INSIDE, clips)) for _ in range(3))
    assert took < 2.5 * spectra


def _processor_s(do: Callable[[], object]) -> float:
    """What it takes of a processor, whatever else the machine does meanwhile."""
    began = time.process_time()
    do()
    return time.process_time() - began
