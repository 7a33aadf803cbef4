"""The microphone, on the CPU's clock. Importing this raises OSError where PortAudio is absent."""

from __future__ import annotations

import queue
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from coach.ears.segments import Samples
from coach.sound.backends.quiet import hush, quiet, unhush
from coach.sound.clock import believed_s

with quiet():
    import sounddevice

Refused = sounddevice.PortAudioError

_LATENCY_S = 0.05
_RATES = (48_000, 44_100, 16_000)


def names() -> list[str]:
    """What the machine's inputs are called."""
    with quiet():
        return [one["name"] for one in sounddevice.query_devices() if one["max_input_channels"] > 0]


@dataclass(frozen=True, eq=False)
class Block:
    """A piece of what the microphone heard.

    Attributes:
        at: when its first sample reached the microphone, on `time.perf_counter`.
        samples: float32, mono.
        rate: samples a second.
    """

    at: float
    samples: Samples
    rate: int


class Microphone:
    """An open input. Its callback copies and does nothing else.

    Attributes:
        name: what the device is called.
        rate: samples a second, the device's own where it refuses others.
        blocks: what it heard and nobody has taken yet.
    """

    def __init__(self, name: str | None = None) -> None:
        """Open an input by name, or the usual one.

        Raises:
            Refused: there is none, or it will not open.
            ValueError: there is none of that name.
        """
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        self._alive = True
        self._hushed = False
        with quiet():
            about = sounddevice.query_devices(name, "input")
            self.name = str(about["name"])
            self.rate, self._stream = self._open(name, int(about["default_samplerate"]))
        self._latency_s = float(self._stream.latency) or _LATENCY_S

    def _open(self, name: str | None, usual: int) -> tuple[int, Any]:
        refused: Exception | None = None
        for rate in dict.fromkeys((*_RATES, usual)):
            try:
                stream = sounddevice.InputStream(
                    samplerate=rate,
                    device=name,
                    channels=1,
                    dtype="float32",
                    latency=_LATENCY_S,
                    callback=self._callback,
                    finished_callback=self._ended,
                )
            except Refused as error:
                refused = error
            else:
                return rate, stream
        assert refused is not None
        raise refused

    @property
    def alive(self) -> bool:
        """Whether the device still hands over sound, as far as it knows."""
        return self._alive

    def start(self) -> None:
        """Begin to listen."""
        with quiet():
            self._stream.start()
        # Until it is closed: PortAudio writes a lot where a device is lost.
        hush()
        self._hushed = True

    def close(self) -> None:
        """Let the device go."""
        with quiet():
            self._stream.close(ignore_errors=True)
        if self._hushed:
            self._hushed = False
            unhush()

    def _ended(self) -> None:
        self._alive = False

    def _callback(
        self, heard: npt.NDArray[np.float32], count: int, moment: Any, _status: Any
    ) -> None:
        now = time.perf_counter()
        usual_s = max(self._latency_s, count / self.rate)
        at = now - believed_s(moment.inputBufferAdcTime, moment.currentTime, usual_s)
        self.blocks.put(Block(at, heard[:, 0].copy(), self.rate))
