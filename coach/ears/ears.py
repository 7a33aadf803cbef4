"""The coach's ears: a microphone, the recogniser's process, and what was heard so far."""

from __future__ import annotations

import base64
import json
import math
import os
import queue
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TypeVar

from coach.ears.fitting import Fitting
from coach.ears.grammar import Grammar
from coach.ears.levels import Level, Meter
from coach.ears.resampling import Resampler
from coach.ears.segments import Samples
from coach.ears.source import DEAF, Input
from coach.ears.tape import Tape, coarse
from coach.ears.utterance import Utterance
from coach.settings import load
from coach.shelf import PLACE, program

T = TypeVar("T")

READY_S = 20.0
_POLL_S = 0.1
_PATIENCE = 30
"""So many polls in a row must find nothing where the microphone is gone. A program that was halted
(Ctrl-Z), or that a busy machine did not let go on, has missed seconds and not polls."""

_ASKS_S = 0.5
"""So often the recogniser is asked how far it has got."""

_LEVELS = 2000

# More threads make what the recogniser multiplies no faster, and take from what plays.
_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


class Ears:
    """Listens from `start` to `close`; nothing that is called here ever waits for a device.

    Args:
        source: an open input.
        covered: whether the coach itself is heard at a perf_counter time, and what comes in then
            is to be left out; None where the student wears headphones.
        keep_audio: a WAV file to write what is heard to; None keeps nothing.

    Raises:
        Problem: that file cannot be written, or the settings are none.

    Attributes:
        told: what hears, and where it is from; "" until that is ready.
        deaf: why nothing is heard any more, without an end; "" while something is.
        deaf_since: the perf_counter time at which the microphone went; None while it is there.
        pushed: whether it hears only what is between two calls of `push`.
    """

    def __init__(
        self,
        source: Input,
        *,
        covered: Callable[[float], bool] | None = None,
        keep_audio: Path | None = None,
    ) -> None:
        self.told = ""
        self.deaf = ""
        self.deaf_since: float | None = None
        self.pushed = False
        self._understood_to = time.perf_counter()
        self._note = ""
        self._source = source
        self._covered = covered
        self._tape = Tape(keep_audio) if keep_audio else None
        self._heard: deque[Utterance] = deque()
        self._levels: deque[Level] = deque(maxlen=_LEVELS)
        self._expected = 0
        self._weights = load().weights
        self._ready = threading.Event()
        self._heard_out = threading.Event()
        self._out_at = math.inf
        self._ended = threading.Event()
        self._requests: deque[Mapping[str, object]] = deque()
        if fits := load().listening.get(source.name):
            fitting = Fitting(fits.begins, fits.goes_on)
            self._requests.append({"fitting": asdict(fitting)})
        self._worker = subprocess.Popen(
            program("coach.ears.worker"),
            cwd=PLACE,
            env={**os.environ, **_ONE_THREAD},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,
        )
        self._threads = [
            threading.Thread(target=target, daemon=True) for target in (self._read, self._write)
        ]

    @property
    def note(self) -> str:
        """One sentence that the student should read, or an empty text."""
        return f"{self.deaf}{DEAF}" if self.deaf else self._note

    @property
    def kept(self) -> str:
        """What became of the file of what was heard, once it is over or cannot be written."""
        return self._tape.told if self._tape else ""

    def start(self) -> None:
        """Begin to listen; the recogniser may need a second until it understands."""
        self._send({"weights": self._weights})
        for thread in self._threads:
            thread.start()
        self._source.start()

    def wait(self) -> None:
        """Until the recogniser is ready, or has failed."""
        self._ready.wait(READY_S)

    def expect(self, grammar: Grammar, since: float) -> int:
        """Listen for other words.

        Args:
            grammar: what may be said.
            since: the perf_counter time from which on it holds, now or a little in the past.

        Returns:
            A number of its own, which the utterances heard with it carry.
        """
        self._requests.append({**grammar.request, "since": since})
        self._expected += 1
        return self._expected - 1

    def push_to_talk(self) -> None:
        """From now on hear only between two calls of `push`."""
        self.pushed = True
        self._requests.append({"pushed": True})

    def push(self) -> None:
        """Begin to hear, or end; it also ends by itself, once the student has spoken."""
        self._requests.append({"push": True})

    @property
    def hears_coach(self) -> bool:
        """Whether the coach speaks into the room as well."""
        return self._covered is not None

    def hear_out(self) -> None:
        """Have `heard_out` told once everything is understood that was begun by now."""
        self._out_at = time.perf_counter()
        self._requests.append({"until": self._out_at})

    @property
    def heard_out(self) -> bool:
        """Whether that is so, or no more is heard at all."""
        return self._heard_out.is_set()

    @property
    def understood_to(self) -> float:
        """The perf_counter time until which everything that was said is understood by now."""
        return self._understood_to

    def utterances(self) -> list[Utterance]:
        """What was heard since the last call."""
        return _taken(self._heard)

    def levels(self) -> list[Level]:
        """How loud it was since the last call."""
        return _taken(self._levels)

    def close(self) -> None:
        """Stop listening; what was heard until now is kept where that was asked for."""
        self._ended.set()
        self._source.close()
        for thread in self._threads[1:]:
            if thread.is_alive():
                thread.join(2.0)
        self._worker.kill()
        self._worker.wait()
        if self._tape is not None:
            self._tape.close()

    def _write(self) -> None:
        """From the device to the recogniser, on a thread of its own."""
        resampler, meter = Resampler(self._source.rate), Meter()
        heard_at = asked_at = time.perf_counter()
        polls = 0
        while not self._ended.is_set():
            try:
                block = self._source.blocks.get(timeout=_POLL_S)
            except queue.Empty:
                polls += 1
                gone = not self._source.alive or polls > _PATIENCE
                if gone and not self._ended.is_set():
                    self.deaf = f"{self._source.name}, the microphone, is gone"
                    self.deaf_since = heard_at
                    self._heard_out.set()
                    return
                continue
            heard_at, polls = time.perf_counter(), 0
            samples = resampler.feed(block.samples)
            at = block.at - resampler.delay_s
            self._levels.append(meter.level(at, samples))
            if self._tape is not None:
                self._tape.add(samples)
            self._requests.append(
                _sound(at, samples, covered=bool(self._covered and self._covered(at)))
            )
            if heard_at - asked_at > _ASKS_S and self._out_at == math.inf:
                asked_at = heard_at
                self._requests.append({"until": at})
            while self._requests:
                if not self._send(self._requests.popleft()):
                    return

    def _send(self, message: Mapping[str, object]) -> bool:
        assert self._worker.stdin is not None
        try:
            self._worker.stdin.write(json.dumps(message).encode() + b"\n")
            self._worker.stdin.flush()
        except (OSError, ValueError):
            return False
        return True

    def _read(self) -> None:
        assert self._worker.stdout is not None
        for line in self._worker.stdout:
            message = json.loads(line)
            if "words" in message:
                self._heard.append(Utterance(**message))
            elif "unknown" in message:
                words = ", ".join(message["unknown"])
                self._note = f"No sound is known for {words}: tap where you would say that."
            elif "until" in message:
                self._understood_to = message["until"]
                if self._understood_to >= self._out_at:
                    self._heard_out.set()
            elif "refused" in message:
                self.deaf = message["refused"].rstrip(".")
            else:
                self.told = message["ready"]
                self._ready.set()
        if not self._ended.is_set():
            self.deaf = self.deaf or "The recogniser has ended"
        self._ready.set()
        self._heard_out.set()

    def __enter__(self) -> Ears:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _sound(at: float, samples: Samples, *, covered: bool) -> Mapping[str, object]:
    if covered:
        return {"at": at, "covered": len(samples)}
    return {"at": at, "sound": base64.b64encode(coarse(samples)).decode()}


def _taken(waiting: deque[T]) -> list[T]:
    return [waiting.popleft() for _ in range(len(waiting))]
