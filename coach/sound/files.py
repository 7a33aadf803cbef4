"""A soundtrack as a file: WAV for everything, FLAC for less room."""

from __future__ import annotations

import io
from pathlib import Path

import soundfile

from coach.problems import ending, written
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
    form = FORMATS[ending(path, *FORMATS)]
    # Made in memory: a disk that fills up is then told by Python, not by a library's own noise.
    whole = io.BytesIO()
    with soundfile.SoundFile(whole, "w", soundtrack.rate, 1, "PCM_16", format=form) as file:
        if title:
            file.title = title
        file.write(soundtrack.samples)
    with written(path) as part:
        part.write_bytes(whole.getbuffer())
