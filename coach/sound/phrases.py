"""Spoken phrases kept on disk: each is spoken once on this machine, whatever is rehearsed."""

from __future__ import annotations

import hashlib
import json
import os
import sys
import tempfile
import zipfile
from contextlib import suppress
from pathlib import Path

import numpy as np
import numpy.typing as npt

from coach.shelf import cache_folder, found, made
from coach.sound.clip import Clip, Samples
from coach.sound.speakers.hibari import version

_FORMAT = 4
"""Part of every key: raise it when trimming, levelling, a speaker's way of speaking or the file
changes. The version of the usual voice is another part."""


def any_kept() -> bool:
    """Whether anything was ever spoken here."""
    return bool(found(_folder(), "*.npz"))


def _folder() -> Path:
    return cache_folder() / "phrases"


def place(text: str, voice: str, words_per_minute: int) -> Path:
    """Where a phrase of this voice is kept."""
    key = json.dumps([_FORMAT, version(), sys.platform, voice.lower(), words_per_minute, text])
    return _folder() / f"{hashlib.sha256(key.encode()).hexdigest()[:32]}.npz"


def remember(place: Path) -> Clip | None:
    """The clip kept there; None where there is none, or its checksum shows damage."""
    try:
        with np.load(place) as kept:
            return _clip(kept["samples"])
    except (OSError, ValueError, KeyError, EOFError, RuntimeError, zipfile.BadZipFile):
        return None


def keep(place: Path, samples: Samples) -> Clip:
    """Keep the clip if the disk allows it, and hand back exactly what will be read another day."""
    coarse = np.round(samples * 32_767).astype(np.int16)
    with suppress(OSError):  # without a cache every rehearsal speaks anew: slower, no worse
        made(place.parent)
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
