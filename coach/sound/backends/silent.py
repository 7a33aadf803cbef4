"""No loudspeaker at all: asks for frames when they are due and throws them away."""

from __future__ import annotations

import threading
import time

import numpy as np

from coach.sound.backends import Fill
from coach.sound.clip import RATE

_BLOCK = RATE // 50
_AHEAD_S = 0.02


class SilentDevice:
    """A clock that plays nothing. See :class:`coach.sound.backends.Device`."""

    name = "silent"
    alive = True  # it cannot be unplugged

    def __init__(self, fill: Fill) -> None:
        self._fill = fill
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin to ask for frames."""
        self._thread.start()

    def close(self) -> None:
        """End the thread."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        scratch = np.zeros((_BLOCK, 1), dtype=np.float32)
        begun, blocks = time.perf_counter(), 0
        while True:
            due = begun + blocks * _BLOCK / RATE
            if self._ended.wait(max(0.0, due - _AHEAD_S - time.perf_counter())):
                return
            self._fill(scratch, due - time.perf_counter())
            blocks += 1


def open_device(fill: Fill) -> SilentDevice:
    """A clock whose first frame is due at its start."""
    return SilentDevice(fill)
