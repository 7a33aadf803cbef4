"""The coach's ears: a microphone, the recogniser's process, and what was heard so far."""

from __future__ import annotations

import base64
import json
import queue
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from importlib.util import find_spec
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol, TypeVar

from coach.ears.grammar import Grammar
from coach.ears.levels import Level, level
from coach.ears.resampling import Resampler
from coach.ears.segments import Samples
from coach.ears.tape import Tape, coarse
from coach.ears.utterance import Utterance
from coach.problems import Problem, nearest
from coach.shelf import PLACE, program

DEAF = "; the rehearsal goes on with taps."
MUTE = "Nothing but silence comes in: the microphone is muted, or its use is refused"

T = TypeVar("T")

_PATIENCE_S = 3.0
_READY_S = 20.0
_POLL_S = 0.1
_LEVELS = 2000


class Deaf(Problem):
    """There is no device to hear with; what is `said` of it has no end of its own."""

    def __str__(self) -> str:
        """The sentence for somebody who rehearses."""
        return f"{self.said}{DEAF}"


class Input(Protocol):
    """Where sound comes from: `coach.ears.microphone.Microphone`, or anything alike."""

    name: str
    rate: int
    blocks: queue.SimpleQueue[Any]

    @property
    def alive(self) -> bool:
        """Whether it still hands over sound, as far as it knows."""

    def start(self) -> None:
        """Begin to listen."""

    def close(self) -> None:
        """Stop."""


class Ears:
    """Listens from `start` to `close`; nothing that is called here ever waits for a device.

    Args:
        source: an open input.
        covered: whether the coach itself is heard at a perf_counter time, and what comes in then
            is to be left out; None where the student wears headphones.
        keep_audio: a WAV file to write what is heard to; None keeps nothing.

    Raises:
        Problem: that file cannot be written.

    Attributes:
        deaf: why nothing is heard any more, without an end; "" while something is.
    """

    def __init__(
        self,
        source: Input,
        *,
        covered: Callable[[float], bool] | None = None,
        keep_audio: Path | None = None,
    ) -> None:
        self.deaf = ""
        self._note = ""
        self._source = source
        self._covered = covered
        self._tape = Tape(keep_audio) if keep_audio else None
        self._heard: deque[Utterance] = deque()
        self._levels: deque[Level] = deque(maxlen=_LEVELS)
        self._expected = 0
        self._ready = threading.Event()
        self._heard_out = threading.Event()
        self._ended = threading.Event()
        self._requests: deque[Mapping[str, object]] = deque()
        self._worker = subprocess.Popen(
            program("coach.ears.worker"),
            cwd=PLACE,
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
        for thread in self._threads:
            thread.start()
        self._source.start()

    def wait(self) -> None:
        """Until the recogniser is ready, or has failed."""
        self._ready.wait(_READY_S)

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
        self._requests.append({"until": time.perf_counter()})

    @property
    def heard_out(self) -> bool:
        """Whether that is so, or no more is heard at all."""
        return self._heard_out.is_set()

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
        resampler = Resampler(self._source.rate)
        heard_at = time.perf_counter()
        while not self._ended.is_set():
            try:
                block = self._source.blocks.get(timeout=_POLL_S)
            except queue.Empty:
                silent_s = time.perf_counter() - heard_at
                gone = not self._source.alive or silent_s > _PATIENCE_S
                if gone and not self._ended.is_set():
                    self.deaf = f"{self._source.name}, the microphone, is gone"
                    self._heard_out.set()
                    return
                continue
            heard_at = time.perf_counter()
            samples = resampler.feed(block.samples)
            at = block.at - resampler.delay_s
            self._levels.append(level(at, samples))
            if self._tape is not None:
                self._tape.add(samples)
            self._requests.append(
                _sound(at, samples, covered=bool(self._covered and self._covered(at)))
            )
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
                self._heard_out.set()
            else:
                self._ready.set()
        if not self._ended.is_set():
            self.deaf = "The recogniser has ended"
        self._ready.set()
        self._heard_out.set()

    def __enter__(self) -> Ears:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _sound(at: float, samples: Samples, *, covered: bool) -> Mapping[str, object]:
    if covered:
        return {"at": at, "covered": len(samples)}
    return {"at": at, "sound": base64.b64encode(coarse(samples)).decode()}


def _taken(waiting: deque[T]) -> list[T]:
    found = []
    while waiting:
        found.append(waiting.popleft())
    return found


def open_microphone(name: str | None = None) -> Input:
    """The microphone, ready to start.

    Args:
        name: which one; None is the usual one.

    Raises:
        Deaf: there is no microphone that opens, or no PortAudio.
        Problem: pocketsphinx is not installed, or there is no microphone of that name.
    """
    if find_spec("pocketsphinx") is None:
        raise Problem(
            "Listening needs the extra “listen”: pip install '.[listen]' in the coach's own folder."
        )
    try:
        from coach.ears.microphone import Microphone, Refused, names
    except OSError:
        raise Deaf(
            "Listening needs the PortAudio library (libportaudio2), which is not here"
        ) from None
    try:
        return Microphone(name)
    except Refused as error:
        reason = str(error).split("[")[0].strip().rstrip(".")
        why = "" if "querying device" in reason else f" or it may not be used ({reason})"
        raise Deaf(f"No microphone was found{why}") from None
    except ValueError as error:
        known = names()
        if name is None or not known:
            raise Deaf("No microphone was found") from None
        several = str(error).startswith("Multiple")
        found = f"Several microphones fit “{name}”" if several else f"Found no microphone “{name}”"
        raise Problem(f"{found}{nearest(name, known)}") from None
