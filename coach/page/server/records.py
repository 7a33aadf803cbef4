"""The logbook, and the pictures, from a server that does many things at once.

The logbook is used by the thread that opened it, and drawing is done by one thread as well: each
has one of its own, so nothing that is asked of them holds the room up.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from coach.logbook.logbook import Logbook

T = TypeVar("T")


class Records:
    """The student's logbook and the pictures; both are opened when they are first asked for."""

    def __init__(self) -> None:
        self._writing = ThreadPoolExecutor(1, "logbook")
        self._drawing = ThreadPoolExecutor(1, "drawing")
        self._logbook: Logbook | None = None

    async def ask(self, job: Callable[[Logbook], T]) -> T:
        """What the job makes of the logbook; see `do`.

        Raises:
            Problem: the logbook cannot be used.
        """
        return await self.do(lambda: self._asked(job))

    async def do(self, job: Callable[[], T]) -> T:
        """What a job gives that writes or reads; they are done in the order they are asked for.

        What was asked for is done, even where nobody waits for it any more.
        """
        return await asyncio.shield(asyncio.wrap_future(self._writing.submit(job)))

    def now(self, job: Callable[[Logbook], T]) -> T:
        """The same for a caller in a thread of its own, which waits for it."""
        return self._writing.submit(self._asked, job).result()

    async def drawn(self, draw: Callable[[Path], None]) -> bytes:
        """The SVG that a drawing writes to the path it is given."""
        return await asyncio.wrap_future(self._drawing.submit(_drawn, draw))

    def close(self) -> None:
        """Do what was asked of the logbook, and close it; of pictures, end the one being drawn."""
        self._writing.submit(self._close)
        self._writing.shutdown()
        self._drawing.shutdown(cancel_futures=True)  # it would leave its file behind

    def _asked(self, job: Callable[[Logbook], T]) -> T:
        if self._logbook is None:
            self._logbook = Logbook()
        return job(self._logbook)

    def _close(self) -> None:
        if self._logbook is not None:
            self._logbook.close()
            self._logbook = None


def _drawn(draw: Callable[[Path], None]) -> bytes:
    with tempfile.TemporaryDirectory(prefix="picture") as folder:
        path = Path(folder, "picture.svg")
        draw(path)
        return path.read_bytes()
