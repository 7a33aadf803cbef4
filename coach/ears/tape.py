"""What is heard, kept in a WAV file while it comes in."""

from __future__ import annotations

import contextlib
import struct
from pathlib import Path

import numpy as np

from coach.ears.segments import RATE, Samples
from coach.problems import Problem, written

_HEAD = struct.Struct("<4sI4s4sIHHIIHH4sI")
"""RIFF and WAVE, as one chunk of their form and one of samples (from memory)."""


class Tape:
    """A file that is there once it is whole, and that nobody else on this machine may read.

    Where the disk takes no more, nothing of it is left: the run itself may need the room.

    Attributes:
        told: what became of it, in a sentence; "" while it is written.
    """

    def __init__(self, path: Path) -> None:
        """Begin to write.

        Raises:
            Problem: the file cannot be written.
        """
        self.told = ""
        self._path = path
        self._bytes = 0
        with contextlib.ExitStack() as place:
            part = place.enter_context(written(path, private=True))
            self._file = part.open("wb")
            place.push(self._closed)
            self._file.write(_head(0))
            self._place = place.pop_all()

    def add(self, samples: Samples) -> None:
        """Write what came next."""
        if self.told:
            return
        sound = coarse(samples)
        try:
            self._file.write(sound)
        except OSError as error:
            self._end(error)
        self._bytes += len(sound)

    def close(self) -> None:
        """Write the end of it; see `told`."""
        if not self.told:
            self._end(None)

    def _end(self, error: OSError | None) -> None:
        try:
            with self._place:
                if error is not None:
                    raise error
                if not self._bytes:
                    raise Problem(f"{self._path}: not written, as nothing came in.")
                self._file.seek(0)
                self._file.write(_head(self._bytes))
                self._file.close()
        except Problem as problem:
            self.told = str(problem)
        else:
            self.told = f"Wrote {self._path}."

    def _closed(self, *_: object) -> None:
        # What could not be written before, it would try again.
        with contextlib.suppress(OSError):
            self._file.close()


def coarse(samples: Samples) -> bytes:
    """Samples with 16 bits each."""
    return (np.clip(samples, -1.0, 1.0) * 32_767.0).astype("<i2").tobytes()


def _head(size: int) -> bytes:
    """What stands before so many bytes of samples, one channel of 16 bits."""
    form = (b"fmt ", 16, 1, 1, RATE, 2 * RATE, 2, 16)
    return _HEAD.pack(b"RIFF", _HEAD.size - 8 + size, b"WAVE", *form, b"data", size)
