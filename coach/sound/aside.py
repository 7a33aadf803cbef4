"""What is said beside a soundtrack, and what of the soundtrack is left out for it."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from coach.sound.clip import Clip
from coach.sound.soundtrack import Sound

Frames = npt.NDArray[np.float32]


@dataclass
class _Laid:
    """Samples to be added to every channel from the frame ``start`` on."""

    start: int
    samples: Frames

    def add(self, first: int, out: Frames) -> None:
        """Add them to frames, the first of which has that number."""
        begin = max(first, self.start)
        end = min(first + len(out), self.start + len(self.samples))
        if begin < end:
            out[begin - first : end - first] += self.samples[begin - self.start : end - self.start]


class Aside:
    """Asked by anybody; the rest is for the device's thread, and asks for no memory.

    A soundtrack is rendered some seconds ahead. So what is left out of it is not silenced, which
    the tones and the airplane under it would be too, but taken away again from the sum.
    """

    def __init__(self) -> None:
        self._asked: deque[tuple[_Laid, _Laid | None]] = deque()
        self._said: _Laid | None = None
        self._without: _Laid | None = None

    def ask(self, clip: Clip, instead_of: Sound | None) -> None:
        """Have something said; see :meth:`coach.sound.player.Player.interject`."""
        without = None
        if instead_of is not None:
            opposite = instead_of.samples * np.float32(-instead_of.gain)
            without = _Laid(instead_of.start, opposite[:, np.newaxis])
        self._asked.append((_Laid(0, clip.samples[:, np.newaxis]), without))

    def begin(self, position: int) -> None:
        """Take what was asked next, with the soundtrack at a frame that is not handed over yet."""
        while self._asked and self._said is None:
            said, without = self._asked.popleft()
            if without is None or position <= without.start:
                self._said, self._without = said, without or self._without

    def forget(self) -> None:
        """Leave nothing out any more: the soundtrack has jumped."""
        self._without = None

    def leave_out(self, position: int, out: Frames) -> None:
        """Take away what is not to be heard from frames of the soundtrack."""
        if self._without is not None:
            self._without.add(position, out)

    def speak(self, out: Frames) -> None:
        """Add what is said to the next frames."""
        if self._said is not None:
            self._said.add(0, out)
            self._said.start -= len(out)
            if self._said.start + len(self._said.samples) <= 0:
                self._said = None
