"""Plays one soundtrack on one device, and knows at any moment what is being heard."""

from __future__ import annotations

import time
from collections import deque
from types import TracebackType
from typing import Protocol

import numpy as np
import numpy.typing as npt

from coach.sound.backends import silent
from coach.sound.clock import Clock
from coach.sound.soundtrack import Soundtrack

_PATIENCE_S = 3.0
_LOST = "The sound device is gone: captions only; connect it and start again."


class Device(Protocol):
    """An open output; a module in ``backends/`` makes one."""

    def start(self) -> None:
        """Begin to ask the player for frames."""

    def close(self) -> None:
        """Fall silent at once and let the device go."""

    @property
    def alive(self) -> bool:
        """Whether the device still asks for frames, as far as it knows."""


class Player:
    """One soundtrack on its way to the ear.

    Attributes:
        note: one sentence the student should read, or None.
        lost: the device vanished; the position goes on by the CPU's clock.
        underruns: how often the device ran out of samples.
    """

    def __init__(self, soundtrack: Soundtrack, note: str | None = None) -> None:
        self.note = note
        self.lost = False
        self.underruns = 0
        self.clock = Clock()
        self._column = soundtrack.samples[:, np.newaxis]
        self._length_s = soundtrack.length_s
        self._next = 0
        self._playing = False
        self._orders: deque[tuple[bool, int | None]] = deque()
        self._device: Device | None = None
        self._running = False
        self._seen = (0, 0.0)

    def attach(self, device: Device) -> None:
        """Use this device from now on."""
        self._device = device

    def start(self) -> None:
        """Play from the beginning."""
        assert self._device is not None
        self._running = True
        self._seen = (0, time.perf_counter())
        self._orders.append((True, 0))
        self._device.start()

    def pause(self) -> None:
        """Fall silent; what is already on its way to the ear is still heard."""
        self._orders.append((False, None))

    def resume(self) -> None:
        """Go on where :meth:`pause` stopped."""
        self._orders.append((True, None))

    def restart(self) -> None:
        """Play from the beginning again."""
        self._orders.append((True, 0))

    def stop(self) -> None:
        """Fall silent for good and let the device go; the position stays where it is."""
        if self._running:
            self._running = False
            self.clock.stop(time.perf_counter())
        if self._device is not None:
            self._device.close()
            self._device = None

    def position_s(self, at: float | None = None) -> float:
        """Seconds on the soundtrack that are being heard, the device's delay taken off.

        Args:
            at: a ``time.perf_counter()`` time, now or a little in the past; None is now.
        """
        self._watch()
        return min(self.clock.position_s(time.perf_counter() if at is None else at), self._length_s)

    @property
    def finished(self) -> bool:
        """Whether the last sample has been heard."""
        return self.position_s() >= self._length_s

    def fill(
        self, out: npt.NDArray[np.float32], delay_s: float, *, fell_behind: bool = False
    ) -> None:
        """Hand the device its next frames. Called on the device's own thread, so it only copies.

        Args:
            out: frames by channels, overwritten.
            delay_s: seconds from now until the first of them is heard.
            fell_behind: the device ran out of frames before it asked.
        """
        now = time.perf_counter()
        if fell_behind:
            self.underruns += 1
            self.clock.forget()
        while self._orders:
            self._playing, jump = self._orders.popleft()
            if jump is not None:
                self._next = jump
            self.clock.mark(self._next, self._playing)
        self.clock.tick(len(out), now + delay_s)
        count = max(0, min(len(out), len(self._column) - self._next)) if self._playing else 0
        out[:count] = self._column[self._next : self._next + count]
        out[count:] = 0
        if self._playing:
            self._next += len(out)

    def __enter__(self) -> Player:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def _watch(self) -> None:
        """Go on without a device when it no longer asks for frames."""
        if not self._running or self.lost or self._device is None:
            return
        now = time.perf_counter()
        if self.clock.ticks != self._seen[0]:
            self._seen = (self.clock.ticks, now)
        if self._device.alive and now - self._seen[1] < _PATIENCE_S:
            return
        self.lost, self.note = True, _LOST
        gone, self._device = self._device, silent.open_device(self.fill, due=self.clock.due())
        gone.close()
        self._device.start()
