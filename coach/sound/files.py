"""A soundtrack as a file: WAV for everything, FLAC for less room."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import soundfile

from coach.problems import Problem
from coach.sound.soundtrack import Soundtrack

FORMATS = {".wav": "WAV", ".flac": "FLAC"}


def write(soundtrack: Soundtrack, path: Path, title: str = "") -> None:
    """Write the soundtrack; the file is either whole or not there.

    Args:
        soundtrack: what to write, as 16-bit mono.
        path: where; its ending, ``.wav`` or ``.flac``, says in what form.
        title: what a music player shows.

    Raises:
        Problem: another ending, or a place that cannot be written.
    """
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise Problem(
            f"A soundtrack is written as {' or '.join(FORMATS)}, "
            f"and {path.name} ends in {path.suffix or 'neither'}."
        )
    unfinished = None
    try:
        handle, unfinished = tempfile.mkstemp(dir=path.parent, suffix=path.suffix)
        with (
            os.fdopen(handle, "w+b") as raw,
            soundfile.SoundFile(raw, "w", soundtrack.rate, 1, "PCM_16", format=form) as file,
        ):
            if title:
                file.title = title
            file.write(soundtrack.samples)
        Path(unfinished).chmod(0o666 & ~_umask())
        Path(unfinished).replace(path)
    except (OSError, soundfile.LibsndfileError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise Problem(
            f"The soundtrack cannot be written to {path}: {reason}; "
            "choose a folder that exists and that you may write to."
        ) from error
    finally:
        if unfinished is not None:
            Path(unfinished).unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
