"""Phrases spoken ahead of time, so that nothing in a rehearsal waits for a voice."""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import soundfile

from coach.problems import Problem, nearest
from coach.sound import phrases
from coach.sound.clip import Clip, Samples, level_phrase, read, trim
from coach.sound.speakers import Voice
from coach.sound.worker import Worker

WORDS_PER_MINUTE = 180
LIMIT_S = 30.0
LISTING_LIMIT_S = 5.0

ATTEMPTS = 3
"""Now and then an engine hands over an empty file for one phrase and speaks it the next time."""

SPEAKERS = (
    "coach.sound.speakers.hibari",
    f"coach.sound.speakers.{'espeak' if sys.platform == 'linux' else 'system'}",
)
"""The modules that may have voices. The first one speaks where none is chosen; the others stand in
for it, in this order."""


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
    with Worker(speaker) as worker:
        messages, why = worker.ask({}, LISTING_LIMIT_S)
    return None if why else tuple(Voice(**one) for one in messages[0]["voices"])


def speak(
    texts: Iterable[str],
    *,
    voice: str | None = None,
    words_per_minute: int = WORDS_PER_MINUTE,
    limit_s: float | None = None,
) -> Voiced:
    """Have every text spoken by a `Narrator`, and let it go."""
    with Narrator(voice, words_per_minute, limit_s) as narrator:
        return narrator.speak(texts)


class Narrator:
    """Who speaks one rehearsal, in as many parts as it takes; from the cache what is there.

    A text that the chosen voice fails on is spoken by the usual voice, and where that fails too by
    the one that the system would use. What was asked for once is settled: it keeps its sound, or
    its silence, whatever is asked for later.
    """

    def __init__(
        self,
        voice: str | None = None,
        words_per_minute: int = WORDS_PER_MINUTE,
        limit_s: float | None = None,
    ) -> None:
        """Nothing is spoken yet.

        Args:
            voice: the voice's name or id; None is the usual one.
            words_per_minute: how fast.
            limit_s: seconds each of these voices may take in all before it is stopped, less if it
                hangs (`coach.sound.worker.PATIENCE_S`); what it has spoken by then is kept. None
                is `LIMIT_S`.

        Raises:
            Problem: the speed is not a speed.
        """
        if not 60 <= words_per_minute <= 500:
            raise Problem(f"A voice speaks 60 to 500 words a minute, not {words_per_minute}.")
        self._voice = voice
        self._words_per_minute = words_per_minute
        self._limit_s = LIMIT_S if limit_s is None else limit_s
        self._given_up = threading.Event()
        self._workers: dict[str, Worker] = {}
        self._spent_s: defaultdict[str, float] = defaultdict(float)
        # By text, in the order asked for; None for what nobody could speak.
        self._clips: dict[str, Clip | None] = {}
        self._stood_in: Counter[str] = Counter()
        self._reason = ""

    def wake(self) -> None:
        """Have the usual voice's engine loaded meanwhile, where no voice has ever spoken here.

        Elsewhere most phrases are known, and an engine would only be in the way of what flies.
        """
        if not self._voice and not phrases.any_kept():
            usual = _usual()
            self._worker(usual).wake(self._task(usual, [], ""))

    def speak(self, texts: Iterable[str]) -> Voiced:
        """Have every text spoken.

        Args:
            texts: what to say; repeated texts are spoken once, blank ones not at all.

        Returns:
            What became of them, and of all that was asked for before.

        Raises:
            Problem: there is no voice of that name.
        """
        wanted = [text for text in dict.fromkeys(texts) if text.strip() and text not in self._clips]
        clips = self._kept(wanted, self._voice or "")
        first = True
        for key, one in _in_turn(self._voice) if len(clips) < len(wanted) else ():
            missing = [text for text in wanted if text not in clips]
            new = self._kept(missing, key)
            left = [text for text in missing if text not in new]
            heard, why = self._have_spoken(one, left) if left else ({}, "")
            for text, samples in heard.items():
                new[text] = phrases.keep(self._place(text, key), samples)
            clips |= new
            if not first:
                self._stood_in[one.name] += len(new)
            elif len(clips) < len(wanted):
                self._reason = self._reason or f"{one.name} {why}"
            first = False
            if len(clips) == len(wanted) or self._given_up.is_set():
                break
        self._clips |= {text: clips.get(text) for text in wanted}
        return self._voiced()

    def give_up(self) -> None:
        """Have what is being spoken by another thread left as it is; nobody waits for it."""
        self._given_up.set()

    def __enter__(self) -> Narrator:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let every voice go."""
        for worker in self._workers.values():
            worker.close()

    def _voiced(self) -> Voiced:
        clips = {text: clip for text, clip in self._clips.items() if clip is not None}
        of_all = f"of {len(self._clips)} phrases"
        shares = [
            f"{count} {of_all} are spoken by {name}"
            for name, count in self._stood_in.items()
            if count
        ]
        if lost := len(self._clips) - len(clips):
            shares.append(f"{lost} {of_all} could not be spoken")
        return Voiced(clips, f"{' and '.join(shares)}: {self._reason}." if shares else None)

    def _worker(self, voice: Voice) -> Worker:
        if voice.speaker not in self._workers:
            self._workers[voice.speaker] = Worker(voice.speaker, self._given_up)
        return self._workers[voice.speaker]

    def _task(self, voice: Voice, texts: list[str], folder: str) -> dict[str, Any]:
        return {
            "texts": texts,
            "folder": folder,
            "voice": voice.id,
            "words_per_minute": self._words_per_minute,
        }

    def _place(self, text: str, key: str) -> Path:
        return phrases.place(text, key, self._words_per_minute)

    def _kept(self, texts: Iterable[str], key: str) -> dict[str, Clip]:
        found = {text: phrases.remember(self._place(text, key)) for text in texts}
        return {text: clip for text, clip in found.items() if clip is not None}

    def _have_spoken(self, voice: Voice, texts: list[str]) -> tuple[dict[str, Samples], str]:
        """What one voice makes of some texts, and why some are missing: the end of a sentence."""
        done: dict[str, Samples] = {}
        reason = "gave no sound"
        began = time.monotonic()
        over = began + self._limit_s - self._spent_s[voice.name]
        for _ in range(ATTEMPTS):
            new, why = self._attempt(voice, texts, max(0.1, over - time.monotonic()))
            done |= new
            texts = [text for text in texts if text not in new]
            if why is not None:
                reason = why
                # The first one missing is what stopped it: the others may go better without.
                texts = texts[1:] if new else []
            if not texts or time.monotonic() > over:
                break
        self._spent_s[voice.name] += time.monotonic() - began
        return done, reason

    def _attempt(
        self, voice: Voice, texts: list[str], limit_s: float
    ) -> tuple[dict[str, Samples], str | None]:
        """What a voice makes of some texts at once; each is levelled while it speaks the next."""
        heard: dict[str, Samples] = {}
        with tempfile.TemporaryDirectory(prefix="phrases") as folder:

            def hear(message: dict[str, Any]) -> None:
                if (number := message.get("spoken")) is not None:
                    samples = _hear(Path(folder, str(number)))
                    if samples is not None:
                        heard[texts[number]] = samples

            _, why = self._worker(voice).ask(self._task(voice, texts, folder), limit_s, hear)
        return heard, why


def _usual() -> Voice:
    return Voice("the usual voice", "", SPEAKERS[0])


def _in_turn(chosen: str | None) -> Iterator[tuple[str, Voice]]:
    """The voices to try, each with the word that its phrases are kept under."""
    first = _named(chosen) if chosen else None
    if first:
        yield chosen or "", first
    if not (first and first.usual):
        yield "", _usual()
    for speaker in SPEAKERS[1:]:
        yield speaker, Voice("the system's voice", "", speaker)


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


def _hear(path: Path) -> Samples | None:
    try:
        samples = level_phrase(trim(read(path)))
    except (OSError, soundfile.LibsndfileError):
        return None
    return samples if len(samples) else None
