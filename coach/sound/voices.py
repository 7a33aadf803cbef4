"""Phrases spoken ahead of time, so that nothing in a rehearsal waits for a voice."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import soundfile

from coach.problems import Problem, nearest
from coach.sound import phrases, worker
from coach.sound.clip import Clip, Samples, level_phrase, read, trim
from coach.sound.speakers import Voice

WORDS_PER_MINUTE = 180
LIMIT_S = 30.0
LISTING_LIMIT_S = 5.0

ATTEMPTS = 3
"""Now and then an engine hands over an empty file for one phrase and speaks it the next time."""

SPEAKERS = (
    f"coach.sound.speakers.{'espeak' if sys.platform == 'linux' else 'system'}",
    "coach.sound.speakers.neural",
)
"""The modules that may have voices; the first one's usual voice is the machine's."""


@dataclass(frozen=True)
class Voiced:
    """What the voices made of some texts.

    Attributes:
        clips: the sound of every text that could be spoken.
        note: one sentence when a stand-in spoke some of them, or nobody did, and why.
    """

    clips: dict[str, Clip]
    note: str | None


def voices() -> list[Voice]:
    """What this machine can speak with: English voices first, by name.

    An engine that fails or takes longer than `LISTING_LIMIT_S` is left out.
    """
    found = [voice for speaker in SPEAKERS for voice in _listed(speaker) or ()]
    return sorted(found, key=lambda voice: (not voice.english, voice.name.lower()))


@lru_cache
def _listed(speaker: str) -> tuple[Voice, ...] | None:
    """A speaker's voices, or None where it fails to answer; asked once."""
    messages, why = worker.ask({"speaker": speaker}, LISTING_LIMIT_S)
    return None if why else tuple(Voice(**one) for one in messages[0]["voices"])


def speak(
    texts: Iterable[str],
    *,
    voice: str | None = None,
    words_per_minute: int = WORDS_PER_MINUTE,
    limit_s: float = LIMIT_S,
) -> Voiced:
    """Have every text spoken, from the cache where it was spoken before.

    A text that the chosen voice fails on is spoken by the machine's usual voice, and where that
    fails too by another English one, of another engine if there is one.

    Args:
        texts: what to say; repeated texts are spoken once, blank ones not at all.
        voice: the voice's name or id; None is the machine's usual one.
        words_per_minute: how fast.
        limit_s: seconds each of these voices may take before it is stopped, less if it hangs
            (`coach.sound.worker.PATIENCE_S`); what it has spoken by then is kept.

    Raises:
        Problem: there is no such voice, or the speed is not a speed.
    """
    if not 60 <= words_per_minute <= 500:
        raise Problem(f"A voice speaks 60 to 500 words a minute, not {words_per_minute}.")
    wanted = [text for text in dict.fromkeys(texts) if text.strip()]
    clips = _kept(wanted, voice or "", words_per_minute)
    shares: list[str] = []
    reason = None
    for key, one in _in_turn(voice) if len(clips) < len(wanted) else ():
        missing = [text for text in wanted if text not in clips]
        new = _kept(missing, key, words_per_minute)
        left = [text for text in missing if text not in new]
        heard, why = _have_spoken(one, left, words_per_minute, limit_s) if left else ({}, "")
        for text, samples in heard.items():
            new[text] = phrases.keep(phrases.place(text, key, words_per_minute), samples)
        clips |= new
        if reason is None:
            reason = f"{one.name} {why}"
        elif new:
            shares.append(f"{len(new)} of {len(wanted)} phrases are spoken by {one.name}")
        if len(clips) == len(wanted):
            break
    if lost := len(wanted) - len(clips):
        shares.append(f"{lost} of {len(wanted)} phrases could not be spoken")
    return Voiced(clips, f"{' and '.join(shares)}: {reason}." if shares else None)


def _kept(texts: Iterable[str], key: str, words_per_minute: int) -> dict[str, Clip]:
    found = {text: phrases.remember(phrases.place(text, key, words_per_minute)) for text in texts}
    return {text: clip for text, clip in found.items() if clip is not None}


def _in_turn(chosen: str | None) -> Iterator[tuple[str, Voice]]:
    """The voices to try, each with the word that its phrases are kept under."""
    usual = Voice("the usual voice", "", SPEAKERS[0], usual=True)
    first = _named(chosen) if chosen else usual
    yield chosen or "", first
    if not first.usual:
        yield "", usual
    others = [one for one in voices() if one.english and not one.usual and one != first]
    for other in sorted(others, key=lambda one: one.speaker in (first.speaker, usual.speaker))[:1]:
        yield other.name, other


def _named(name: str) -> Voice:
    known = voices()
    for voice in known:
        if name.lower() in (voice.name.lower(), voice.id.lower()):
            return voice
    for speaker in SPEAKERS:
        if _listed(speaker) is None:  # it may know the voice all the same
            return Voice(name, name, speaker)
    names = [voice.name for voice in known if voice.english]
    raise Problem(f"There is no voice called {name}{nearest(name, names)}")


def _have_spoken(
    voice: Voice, texts: list[str], words_per_minute: int, limit_s: float
) -> tuple[dict[str, Samples], str]:
    """What one voice makes of some texts, and why some are missing: the end of a sentence."""
    done: dict[str, Samples] = {}
    reason = "gave no sound"
    over = time.monotonic() + limit_s
    for _ in range(ATTEMPTS):
        with tempfile.TemporaryDirectory(prefix="phrases") as folder:
            task = {
                "speaker": voice.speaker,
                "texts": texts,
                "folder": folder,
                "voice": voice.id,
                "words_per_minute": words_per_minute,
            }
            messages, why = worker.ask(task, max(0.1, over - time.monotonic()))
            numbers = [message["spoken"] for message in messages if "spoken" in message]
            heard = {texts[number]: _hear(Path(folder, str(number))) for number in numbers}
        new = {text: samples for text, samples in heard.items() if samples is not None}
        done |= new
        texts = [text for text in texts if text not in new]
        if why is not None:
            reason = why
            # The first one missing is what stopped it: the others may go better without.
            texts = texts[1:] if new else []
        if not texts or time.monotonic() > over:
            break
    return done, reason


def _hear(path: Path) -> Samples | None:
    try:
        samples = level_phrase(trim(read(path)))
    except (OSError, soundfile.LibsndfileError):
        return None
    return samples if len(samples) else None
