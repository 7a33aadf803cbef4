"""Pictures for the page, drawn in a process of its own.

Drawing takes a fifth of a second of one processor, and nothing else of Python goes on meanwhile in
the same process: so a class's pictures keep no tap waiting, and two processors draw two at once.
Both ends of the pipe are here: `Draughtsman` for the coach, `main` for the process, which takes one
pickled `Order` after the other and gives back the picture's bytes, or the Problem.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import io
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from coach.problems import Problem
from coach.shelf import PLACE, program

LIMIT_S = 60.0
"""A picture that takes longer is given up, on however busy a machine."""


@dataclass(frozen=True)
class Order:
    """A picture to be drawn.

    Attributes:
        drawing: the module of this room whose ``draw`` draws it.
        of: what is drawn.
        options: and how, by name.
    """

    drawing: Literal["brief", "debrief", "everybody"]
    of: Any
    options: Mapping[str, bool] = field(default_factory=dict)


class Draughtsman:
    """A process that draws; it is started with the first picture, and again where it has ended."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._starting = threading.Lock()

    def start(self) -> None:
        """Have the process begin, without waiting for it."""
        with self._starting:
            if self._process is None or self._process.poll() is not None:
                # A session of its own: Ctrl-C reaches the coach, with which its stdin ends.
                self._process = subprocess.Popen(
                    program("coach.drawing.worker"),
                    cwd=PLACE,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    start_new_session=True,
                )

    def draw(self, order: Order) -> bytes:
        """The SVG, once it is drawn; one is drawn at a time.

        Raises:
            Problem: it cannot be.
        """
        self.start()
        process = self._process
        assert process is not None and process.stdin is not None and process.stdout is not None
        limit = threading.Timer(LIMIT_S, process.kill)
        limit.start()
        try:
            process.stdin.write(pickle.dumps(order))
            process.stdin.flush()
            drawn = pickle.load(process.stdout)
        except (OSError, EOFError, pickle.UnpicklingError):
            raise Problem("This picture could not be drawn.") from None
        finally:
            limit.cancel()
        if isinstance(drawn, Problem):
            raise drawn
        picture: bytes = drawn
        return picture

    def close(self) -> None:
        """End it, whatever it draws."""
        with self._starting:
            if self._process is not None:
                self._process.kill()
                self._process.wait()


def main() -> None:
    """Draw until stdin ends."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # for what a library might print
    gc.disable()  # what is left over is looked for between two pictures
    importlib.import_module("coach.drawing.plotting")  # before the first one is asked for
    gc.freeze()
    while True:
        try:
            order: Order = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        pickle.dump(_drawn(order), out)
        out.flush()
        gc.collect()


def _drawn(order: Order) -> bytes | Problem:
    drawn = io.BytesIO()
    try:
        module = importlib.import_module(f"coach.drawing.{order.drawing}")
        module.draw(order.of, drawn, **order.options)
    except Problem as problem:
        return problem
    return drawn.getvalue()


if __name__ == "__main__":
    with contextlib.suppress(BrokenPipeError):
        main()
