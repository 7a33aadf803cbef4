"""Sound through PortAudio. Importing this raises OSError where the library is absent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from coach.sound.backends.quiet import hush, quiet, unhush
from coach.sound.clip import RATE

with quiet():
    import sounddevice

Refused = sounddevice.PortAudioError

# Long enough never to run dry; it costs nothing, because the delay is known and taken off.
_LATENCY_S = 0.1
_LONGEST_BELIEVED_S = 1.0


class PortAudioDevice:
    """A PortAudio output stream. See :class:`coach.sound.player.Device`."""

    def __init__(self, fill: Callable[..., None], name: str | None) -> None:
        number = None if name is None else _devices()[name]
        with quiet():
            device = sounddevice.query_devices(number, "output")
            self._stream = sounddevice.OutputStream(
                samplerate=RATE,
                device=number,
                channels=min(2, device["max_output_channels"]),
                dtype="float32",
                latency=_LATENCY_S,
                callback=self._callback,
                finished_callback=self._ended,
            )
        self._fill = fill
        self._started = False
        self._alive = True
        self._latency_s = float(self._stream.latency)

    @property
    def alive(self) -> bool:
        """PortAudio's own opinion.

        It tells us, we do not ask: a call into PortAudio lets go of Python's lock, and a screen
        that asks often would win it back from the waiting callback again and again.
        """
        return self._alive

    def start(self) -> None:
        """Begin to ask for frames.

        Quiet as long as it plays: PortAudio says on stderr that its device is gone.
        """
        hush()
        self._started = True
        try:
            self._stream.start()
        except Refused:  # the player sees that it is not alive
            self._alive = False

    def close(self) -> None:
        """Drop what is buffered and close."""
        self._stream.close(ignore_errors=True)
        if self._started:
            self._started = False
            unhush()

    def _ended(self) -> None:
        self._alive = False

    def _callback(
        self, out: npt.NDArray[np.float32], _count: int, moment: Any, status: Any
    ) -> None:
        # Some back ends leave these times zero, or count them on a clock of their own.
        delay_s = moment.outputBufferDacTime - moment.currentTime
        if not (moment.currentTime > 0 and 0 <= delay_s <= _LONGEST_BELIEVED_S):
            delay_s = self._latency_s
        self._fill(out, delay_s, fell_behind=bool(status.output_underflow))


def open_device(fill: Callable[..., None], name: str | None) -> PortAudioDevice:
    """Open an output by name, or the usual one.

    Raises:
        Refused: there is no output, or it will not open.
    """
    return PortAudioDevice(fill, name)


def names() -> list[str]:
    """The outputs of the usual sound system, as PortAudio calls them."""
    return list(_devices())


def _devices() -> dict[str, int]:
    # One machine can have several sound systems that all list the same loudspeakers.
    try:
        usual = sounddevice.query_hostapis(sounddevice.default.hostapi)["devices"]
    except sounddevice.PortAudioError:
        return {}
    found = ((sounddevice.query_devices(number), number) for number in usual)
    return {about["name"]: number for about, number in found if about["max_output_channels"]}
