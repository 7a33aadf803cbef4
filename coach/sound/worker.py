"""The voice at work, in a process of its own.

A voice can hang or take its whole process down, which is why it never runs inside the coach. Both
ends of the pipe are here: `Worker` for the coach, `main` for the worker's process.

The process reads one JSON object a line from stdin: ``speaker`` (a module, see
`coach.sound.speakers`) and, to have something spoken, ``texts``, ``folder``, ``voice`` and
``words_per_minute``. On stdout it writes one JSON object a line: ``{"voices": [...]}``, or
``{"spoken": 0}`` as each file is whole, or ``{"problem": "sentence"}``, and ``{"done": true}`` at
the end of each task, with ``leaves`` where it shall not be given another one. It ends with its
stdin.
"""

from __future__ import annotations

import importlib
import json
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any, TextIO

from coach.shelf import PLACE, program

PATIENCE_S = 10.0
"""A voice that finishes nothing for so long hangs, once it has finished something: before that its
process and its engine are loaded, which may take as long on a slow disk."""

_LOOK_S = 0.2


class Worker:
    """One speaker's process: begun when it is first needed, and awake until it is closed.

    What hangs or complains is ended, and begun anew for the next task.
    """

    def __init__(self, speaker: str, given_up: threading.Event | None = None) -> None:
        """Begin nothing yet.

        Args:
            speaker: the module that speaks.
            given_up: set, by whatever thread, where nobody waits for the answer any more.
        """
        self._speaker = speaker
        self._given_up = given_up or threading.Event()
        self._process: subprocess.Popen[bytes] | None = None
        self._reader: threading.Thread | None = None
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._left_over = 0
        self._has_begun = False

    def wake(self, task: dict[str, Any]) -> None:
        """Give it a task whose answer nobody waits for."""
        self._give(task)
        self._left_over += 1

    def ask(
        self,
        task: dict[str, Any],
        limit_s: float,
        meanwhile: Callable[[dict[str, Any]], None] = lambda _: None,
    ) -> tuple[list[dict[str, Any]], str | None]:
        """Have it do one task, and end it when it takes too long.

        Args:
            task: what the process reads, without the speaker.
            limit_s: seconds for the task; `PATIENCE_S` without a new file end it as well.
            meanwhile: called with each thing that it wrote, while it goes on.

        Returns:
            What it wrote, and why it did not come to its end: half a sentence that follows the
            voice's name, or None.
        """
        if self._given_up.is_set():
            return [], "was given up"
        self._give(task)
        messages, why = self._answered(task, limit_s, meanwhile)
        for message in messages:
            why = message.get("problem", why)
        if why is not None or messages[-1].get("leaves"):
            self.close()
        return messages, why

    def close(self) -> None:
        """End the process; another task begins a new one."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        with process:
            assert self._reader is not None
            self._reader.join()

    def _give(self, task: dict[str, Any]) -> None:
        if self._process is None:
            self._begin()
        assert self._process is not None and self._process.stdin is not None
        with suppress(OSError):  # it has died; whoever waits for the answer finds out
            self._process.stdin.write(json.dumps({"speaker": self._speaker, **task}).encode())
            self._process.stdin.write(b"\n")
            self._process.stdin.flush()

    def _begin(self) -> None:
        # A session of its own: Ctrl-C reaches the coach, which ends the worker in its own way.
        self._process = subprocess.Popen(
            program("coach.sound.worker"),
            cwd=PLACE,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self._lines, self._left_over, self._has_begun = queue.SimpleQueue(), 0, False
        self._reader = threading.Thread(
            target=_read, args=(self._process.stdout, self._lines), daemon=True
        )
        self._reader.start()

    def _answered(
        self, task: dict[str, Any], limit_s: float, meanwhile: Callable[[dict[str, Any]], None]
    ) -> tuple[list[dict[str, Any]], str | None]:
        messages: list[dict[str, Any]] = []
        files, began = 0, time.monotonic()
        fresh = began
        while True:
            try:
                line = self._lines.get(timeout=_LOOK_S)
            except queue.Empty:
                line = None
            if line == b"":
                return messages, "ended before it was done"
            if line is not None:
                self._has_begun = True
                with suppress(ValueError):  # the last line may be cut off
                    message = json.loads(line)
                    if not self._left_over:
                        messages.append(message)
                        meanwhile(message)
                    if "done" in message and not self._left_over:
                        return messages, None
                    self._left_over -= "done" in message
                fresh = time.monotonic()
            now = time.monotonic()
            if "folder" in task and (found := len(list(Path(task["folder"]).iterdir()))) > files:
                files, fresh, self._has_begun = found, now, True
            if self._given_up.is_set():
                return messages, "was given up"
            if now - began > limit_s:
                return messages, f"took longer than {limit_s:.0f} seconds"
            if self._has_begun and now - fresh > PATIENCE_S:
                return messages, f"said nothing for {PATIENCE_S:.0f} seconds"

    def __enter__(self) -> Worker:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _read(stdout: IO[bytes], lines: queue.SimpleQueue[bytes]) -> None:
    """Hand on every line, and an empty one at the end."""
    for line in stdout:
        lines.put(line)
    lines.put(b"")


def main() -> None:
    """Do one task after the other, as long as there is somebody who gives them."""
    out = own_stdout()

    def tell(**message: object) -> None:
        print(json.dumps(message), file=out, flush=True)

    for line in sys.stdin:
        task = json.loads(line)
        leaves = False
        try:
            speaker = importlib.import_module(task["speaker"])
            once = getattr(speaker, "ONCE", False)
            leaves = once and bool(task.get("texts"))
            if "texts" in task and (leaves or not once):
                for number in speaker.speak(
                    task["texts"], Path(task["folder"]), task["voice"], task["words_per_minute"]
                ):
                    tell(spoken=number)
            elif "texts" not in task:
                tell(voices=[asdict(voice) for voice in speaker.voices()])
        except Exception as error:
            # Engines raise whatever they like; the coach goes on with another voice and says why.
            tell(problem=f"said {type(error).__name__}: {' '.join(str(error).split())}")
        tell(done=True, leaves=leaves)


def own_stdout() -> TextIO:
    """The real stdout for a worker alone; what its libraries print goes nowhere."""
    ours = os.fdopen(os.dup(1), "w", encoding="utf-8")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    return ours


if __name__ == "__main__":
    main()
    # Some engines crash while Python takes them apart; there is nothing left to do anyway.
    os._exit(0)
