"""No loudspeaker at all: asks for frames when they are due and throws them away."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np

from coach.sound.clip import RATE

_BLOCK = RATE // 50
_AHEAD_S = 0.02


class SilentDevice:
    """A clock that plays nothing. See :class:`coach.sound.player.Device`."""

    def __init__(self, fill: Callable[..., None], due: float | None) -> None:
        self._fill = fill
        self._due = due
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def alive(self) -> bool:
        """It cannot be unplugged."""
        return True

    def start(self) -> None:
        """Begin to ask for frames."""
        self._thread.start()

    def close(self) -> None:
        """End the thread."""
        self._ended.set()

    def _run(self) -> None:
        scratch = np.zeros((_BLOCK, 1), dtype=np.float32)
        begun, blocks = (time.perf_counter() if self._due is None else self._due), 0
        while True:
            due = begun + blocks * _BLOCK / RATE
            if self._ended.wait(max(0.0, due - _AHEAD_S - time.perf_counter())):
                return
            self._fill(scratch, due - time.perf_counter())
            blocks += 1


def open_device(fill: Callable[..., None], due: float | None = None) -> SilentDevice:
    """A clock whose next frame is due at perf_counter time ``due``, or at its start."""
    return SilentDevice(fill, due)
