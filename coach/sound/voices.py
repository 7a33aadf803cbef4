"""Phrases spoken ahead of time, so that nothing in a rehearsal waits for a voice."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from coach.problems import Problem, nearest
from coach.shelf import cache_folder
from coach.sound.clip import Clip, Samples, level_phrase, read, trim

WORDS_PER_MINUTE = 180
LIMIT_S = 30.0

ATTEMPTS = 3
"""Now and then a driver hands over an empty file for one phrase and speaks it the next time."""

_FORMAT = 1  # part of every cache key: raise it when trimming, levelling or the file changes
_WORKER = (sys.executable, "-m", "coach.sound.worker")


@dataclass(frozen=True)
class Spoken:
    """What a voice made of some texts.

    Attributes:
        clips: the sound of every text that could be spoken.
        problem: one sentence when some could not; those are missing from ``clips``.
    """

    clips: dict[str, Clip]
    problem: str | None


def speak(
    texts: Iterable[str],
    *,
    voice: str | None = None,
    words_per_minute: int = WORDS_PER_MINUTE,
    limit_s: float = LIMIT_S,
) -> Spoken:
    """Have every text spoken, from the cache where it was spoken before.

    Args:
        texts: what to say; repeated texts are spoken once, blank ones not at all.
        voice: the voice's name or id; None is the system's own, if that speaks English.
        words_per_minute: how fast.
        limit_s: seconds the voice may take before it is stopped; what is done by then is kept.

    Raises:
        Problem: there is no such voice, or the speed is not a speed.
    """
    if not 60 <= words_per_minute <= 500:
        raise Problem(f"A voice speaks 60 to 500 words a minute, not {words_per_minute}.")
    wanted = [text for text in dict.fromkeys(texts) if text.strip()]
    places = {text: _place(text, voice, words_per_minute) for text in wanted}
    clips = {text: clip for text in wanted if (clip := _remember(places[text])) is not None}
    missing = [text for text in wanted if text not in clips]
    problem = why = None
    over = time.monotonic() + limit_s
    for _ in range(ATTEMPTS):
        if not missing or why is not None:
            break
        with tempfile.TemporaryDirectory(prefix="phrases") as folder:
            left_s = max(0.1, over - time.monotonic())
            numbers, why = _run_worker(missing, Path(folder), voice, words_per_minute, left_s)
            for number in numbers:
                samples = _hear(Path(folder, str(number)))
                if samples is not None:
                    clips[missing[number]] = _keep(places[missing[number]], samples)
        missing = [text for text in missing if text not in clips]
    if missing:
        reason = why or "the voice gave no sound"
        problem = f"{len(missing)} of {len(wanted)} phrases could not be spoken: {reason}."
    return Spoken(clips, problem)


def _run_worker(
    texts: list[str], folder: Path, voice: str | None, words_per_minute: int, limit_s: float
) -> tuple[list[int], str | None]:
    """The numbers of the texts whose files are whole, and why others may be missing."""
    task = {
        "texts": texts,
        "folder": str(folder),
        "voice": voice,
        "words_per_minute": words_per_minute,
    }
    why = None
    # A session of its own: Ctrl-C reaches the coach, which ends the worker in its own way.
    with subprocess.Popen(
        _WORKER,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    ) as worker:
        try:
            said, _ = worker.communicate(json.dumps(task).encode(), timeout=limit_s)
        except subprocess.TimeoutExpired:
            worker.kill()
            said, _ = worker.communicate()
            why = f"the voice took longer than {limit_s:.0f} seconds"
        finally:
            worker.kill()
    numbers = []
    for message in _messages(said):
        if "spoken" in message:
            numbers.append(message["spoken"])
        elif "unknown_voice" in message:
            known = message["unknown_voice"]
            raise Problem(f"There is no voice called {voice}{nearest(str(voice), known)}")
        else:
            why = message["problem"]
    if worker.returncode and why is None:
        why = "the voice ended before it was done"
    return numbers, why


def _messages(said: bytes) -> Iterator[dict[str, Any]]:
    for line in said.splitlines():
        with suppress(ValueError):  # the last line may be cut off
            yield json.loads(line)


def _hear(path: Path) -> Samples | None:
    try:
        samples = level_phrase(trim(read(path)))
    except (OSError, soundfile.LibsndfileError):
        return None
    return samples if len(samples) else None


def _place(text: str, voice: str | None, words_per_minute: int) -> Path:
    key = json.dumps([_FORMAT, sys.platform, voice, words_per_minute, text])
    return cache_folder() / "phrases" / f"{hashlib.sha256(key.encode()).hexdigest()[:32]}.npz"


def _remember(place: Path) -> Clip | None:
    """The clip kept there; None where there is none, or its checksum shows damage."""
    try:
        with np.load(place) as kept:
            return _clip(kept["samples"])
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def _keep(place: Path, samples: Samples) -> Clip:
    """Keep the clip if the disk allows it, and hand back exactly what will be read another day."""
    coarse = np.round(samples * 32_767).astype(np.int16)
    with suppress(OSError):  # without a cache every rehearsal speaks anew: slower, no worse
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, unfinished = tempfile.mkstemp(dir=place.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, samples=coarse)
            Path(unfinished).replace(place)
        finally:
            Path(unfinished).unlink(missing_ok=True)
    return _clip(coarse)


def _clip(coarse: npt.NDArray[np.int16]) -> Clip:
    return Clip(coarse.astype(np.float32) / np.float32(32_767))
