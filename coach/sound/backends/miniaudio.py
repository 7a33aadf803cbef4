"""Sound through miniaudio, which carries everything it needs inside its wheel."""

from __future__ import annotations

from collections.abc import Generator
from contextlib import suppress
from typing import Any

import miniaudio  # type: ignore[import-untyped]
import numpy as np

from coach.sound.backends import Fill, Output
from coach.sound.backends.quiet import quiet
from coach.sound.clip import RATE

Refused = miniaudio.MiniaudioError

_BLOCK_S = 0.08
_BLOCKS = 3
_CHANNELS = 2
# miniaudio does not tell its delay. It asks for a block whenever one of its blocks has been played,
# so the others lie before it; under PulseAudio the server holds less, as a recording showed.
_DELAY_S = (_BLOCKS - 1) * _BLOCK_S
_DELAY_UNDER_S = {"PulseAudio": 0.065}
_REAL = [backend for backend in miniaudio.Backend if backend is not miniaudio.Backend.NULL]


class MiniaudioDevice:
    """A miniaudio playback device. See :class:`coach.sound.backends.Device`."""

    def __init__(self, fill: Fill, name: str | None) -> None:
        self.name = name or "the usual output"
        with quiet():
            self._device = miniaudio.PlaybackDevice(
                miniaudio.SampleFormat.FLOAT32,
                _CHANNELS,
                RATE,
                buffersize_msec=round(_BLOCK_S * 1000),
                device_id=None if name is None else _id(name),
                callback_periods=_BLOCKS,
                backends=_REAL,
            )
        self._fill = fill
        self._delay_s = _DELAY_UNDER_S.get(self._device.backend, _DELAY_S)

    @property
    def alive(self) -> bool:
        """Whether the device still runs; one that is taken away only stops to ask."""
        return bool(self._device.running)

    def start(self) -> None:
        """Begin to ask for frames."""
        blocks = self._blocks()
        next(blocks)
        # A device that does not start is not alive, and the player sees it.
        with quiet(), suppress(Refused):
            self._device.start(blocks)

    def close(self) -> None:
        """Drop what is buffered and close."""
        with quiet():
            self._device.close()

    def _blocks(self) -> Generator[Any, int, None]:
        buffer = np.zeros((RATE, _CHANNELS), dtype=np.float32)
        count, handed = (yield b""), 0
        while True:
            out = buffer[:count]
            # At first it asks at once, until its buffer is full.
            self._fill(out, min(handed / RATE, self._delay_s))
            handed += count
            count = yield out


def open_device(fill: Fill, name: str | None) -> MiniaudioDevice:
    """Open an output by name, or the usual one.

    Raises:
        Refused: there is no output, or it will not open.
    """
    return MiniaudioDevice(fill, name)


def outputs() -> list[Output]:
    """The outputs miniaudio finds. It does not tell which of several is the usual one."""
    found = _devices()
    return [Output(name, "miniaudio", len(found) == 1, None) for name in found]


def _id(name: str) -> Any:
    found = _devices()
    if name not in found:
        raise Refused(f"there is no {name}")
    return found[name]


def _devices() -> dict[str, Any]:
    try:
        with quiet():
            found = miniaudio.Devices(_REAL).get_playbacks()
    except miniaudio.MiniaudioError:
        return {}
    return {about["name"]: about["id"] for about in found}
