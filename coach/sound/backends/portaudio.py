"""Sound through PortAudio. Importing this raises OSError where the library is absent."""

from __future__ import annotations

import threading
import time
from typing import Any

import numpy as np
import numpy.typing as npt

from coach.sound.backends import Fill, Output
from coach.sound.backends.quiet import hush, quiet, unhush
from coach.sound.clip import RATE
from coach.sound.clock import believed_s

with quiet():
    import sounddevice

Refused = sounddevice.PortAudioError

# Long enough never to run dry; it costs nothing, because the delay is known and taken off.
_LATENCY_S = 0.2
# PortAudio lists the devices when it is initialised, and never again.
_STALE_S = 0.5

_lock = threading.Lock()
_open_streams = 0
_listed_at = time.perf_counter()


class PortAudioDevice:
    """A PortAudio output stream. See :class:`coach.sound.backends.Device`."""

    def __init__(self, fill: Fill, name: str | None) -> None:
        global _open_streams
        self._fill = fill
        self._started = False
        self._alive = True
        with _lock, quiet():
            _list_anew()
            number = None if name is None else _number(name)
            device = sounddevice.query_devices(number, "output")
            self.name = str(device["name"])
            self._stream = sounddevice.OutputStream(
                samplerate=RATE,
                device=number,
                channels=min(2, device["max_output_channels"]),
                dtype="float32",
                latency=_LATENCY_S,
                callback=self._callback,
                finished_callback=self._ended,
            )
            _open_streams += 1
        self._latency_s = float(self._stream.latency) or _LATENCY_S

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
        global _open_streams
        with _lock:
            if not self._stream.closed:
                self._stream.close(ignore_errors=True)
                _open_streams -= 1
        if self._started:
            self._started = False
            unhush()

    def _ended(self) -> None:
        self._alive = False

    def _callback(
        self, out: npt.NDArray[np.float32], _count: int, moment: Any, status: Any
    ) -> None:
        delay_s = believed_s(moment.currentTime, moment.outputBufferDacTime, self._latency_s)
        self._fill(out, delay_s, fell_behind=bool(status.output_underflow))


def open_device(fill: Fill, name: str | None) -> PortAudioDevice:
    """Open an output by name, or the usual one.

    Raises:
        Refused: there is no output, or it will not open.
    """
    return PortAudioDevice(fill, name)


def outputs() -> list[Output]:
    """The outputs of the usual sound system, as PortAudio calls them."""
    with _lock, quiet():
        _list_anew()
        try:
            usual = sounddevice.query_devices(kind="output")["name"]
        except Refused:
            return []
        return [
            Output(name, "PortAudio", name == usual, about["default_high_output_latency"])
            for name, about in _devices().items()
        ]


def _list_anew() -> None:
    """Have PortAudio list the devices that are there now; it cannot while a stream is open."""
    global _listed_at
    if not _open_streams and time.perf_counter() - _listed_at > _STALE_S:
        sounddevice._terminate()
        sounddevice._initialize()
        _listed_at = time.perf_counter()


def _devices() -> dict[str, dict[str, Any]]:
    # One machine can have several sound systems that all list the same loudspeakers.
    usual = sounddevice.query_hostapis(sounddevice.default.hostapi)["devices"]
    found = [sounddevice.query_devices(number) for number in usual]
    return {about["name"]: about for about in found if about["max_output_channels"]}


def _number(name: str) -> int:
    about = _devices().get(name)
    if about is None:
        raise Refused(f"there is no {name}")
    return int(about["index"])
