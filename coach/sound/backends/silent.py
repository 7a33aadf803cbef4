"""No loudspeaker at all: asks for frames when they are due and throws them away."""

from __future__ import annotations

import numpy as np

from coach.sound.backends import Fill
from coach.sound.clip import RATE
from coach.sound.timekeeper import MACHINE, Ends, Timekeeper

_BLOCK = RATE // 50
_AHEAD_S = 0.02


class SilentDevice:
    """A clock that plays nothing. See :class:`coach.sound.backends.Device`."""

    name = "silent"
    alive = True  # it cannot be unplugged

    def __init__(self, fill: Fill, timekeeper: Timekeeper) -> None:
        self._fill = fill
        self._timekeeper = timekeeper
        self._scratch = np.zeros((_BLOCK, 1), dtype=np.float32)
        self._due = 0.0
        self._end: Ends | None = None

    def start(self) -> None:
        """Begin to ask for frames."""
        self._due = self._timekeeper.now()
        self._end = self._timekeeper.again_and_again(self._ask)

    def close(self) -> None:
        """Ask no more."""
        if self._end is not None:
            self._end(None)

    def _ask(self) -> float:
        self._fill(self._scratch, self._due - self._timekeeper.now())
        self._due += _BLOCK / RATE
        return max(0.0, self._due - _AHEAD_S - self._timekeeper.now())


def open_device(fill: Fill, timekeeper: Timekeeper = MACHINE) -> SilentDevice:
    """A clock whose first frame is due at its start."""
    return SilentDevice(fill, timekeeper)
