"""The voice at work, in a process of its own.

A voice can hang or take its whole process down, which is why it never runs inside the coach. Both
ends of the pipe are here: `ask` for the coach, `main` for the worker.

The worker reads one JSON object from stdin: ``speaker`` (a module, see `coach.sound.speakers`) and,
to have something spoken, ``texts``, ``folder``, ``voice`` and ``words_per_minute``. On stdout it
writes one JSON object a line: ``{"voices": [...]}``, or ``{"spoken": 0}`` as each file is whole, or
``{"problem": "sentence"}``.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any, TextIO

from coach.shelf import PLACE, program

PATIENCE_S = 10.0
"""A voice that finishes nothing for so long hangs."""

_LOOK_S = 0.2


def ask(task: dict[str, Any], limit_s: float) -> tuple[list[dict[str, Any]], str | None]:
    """Have a worker do one task, and end it when it takes too long.

    Args:
        task: what the worker reads.
        limit_s: seconds for the whole task; `PATIENCE_S` without a new file end it as well.

    Returns:
        What the worker wrote, and why it did not come to its end: half a sentence that follows the
        voice's name, or None.
    """
    # A session of its own: Ctrl-C reaches the coach, which ends the worker in its own way.
    with subprocess.Popen(
        program("coach.sound.worker"),
        cwd=PLACE,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    ) as worker:
        try:
            said, why = _wait(worker, task, limit_s)
        finally:
            worker.kill()
    messages = []
    for line in said.splitlines():
        with suppress(ValueError):  # the last line may be cut off
            messages.append(json.loads(line))
    for message in messages:
        why = message.get("problem", why)
    if worker.returncode and why is None:
        why = "ended before it was done"
    return messages, why


def _wait(
    worker: subprocess.Popen[bytes], task: dict[str, Any], limit_s: float
) -> tuple[bytes, str | None]:
    given: bytes | None = json.dumps(task).encode()
    files, began = 0, time.monotonic()
    fresh = began
    while True:
        try:
            return worker.communicate(given, timeout=_LOOK_S)[0], None
        except subprocess.TimeoutExpired:
            given = None
        now = time.monotonic()
        if "folder" in task and (found := len(list(Path(task["folder"]).iterdir()))) > files:
            files, fresh = found, now
        if now - began > limit_s:
            why = f"took longer than {limit_s:.0f} seconds"
        elif now - fresh > PATIENCE_S:
            why = f"said nothing for {PATIENCE_S:.0f} seconds"
        else:
            continue
        worker.kill()
        return worker.communicate()[0], why


def main() -> None:
    """Do one task and leave."""
    out = own_stdout()

    def tell(**message: object) -> None:
        print(json.dumps(message), file=out, flush=True)

    task = json.load(sys.stdin)
    try:
        speaker = importlib.import_module(task["speaker"])
        if "texts" in task:
            for number in speaker.speak(
                task["texts"], Path(task["folder"]), task["voice"], task["words_per_minute"]
            ):
                tell(spoken=number)
        else:
            tell(voices=[asdict(voice) for voice in speaker.voices()])
    except Exception as error:
        # Engines raise whatever they like; the coach goes on with another voice and says why.
        tell(problem=f"said {type(error).__name__}: {' '.join(str(error).split())}")


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
