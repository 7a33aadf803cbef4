"""The logbook, and the pictures, from a server that does many things at once.

The logbook is used by the thread that opened it, so nothing that is asked of it holds the room up.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from coach.logbook.logbook import Logbook
from coach.page.server.pictures import Pictures

T = TypeVar("T")


class Records:
    """The student's logbook, which is opened when it is first asked for, and the pictures.

    Attributes:
        pictures: those drawn from it.
    """

    def __init__(self) -> None:
        """Nothing is opened yet."""
        self.pictures = Pictures()
        self._writing = ThreadPoolExecutor(1, "logbook")
        self._logbook: Logbook | None = None

    async def ask(self, job: Callable[[Logbook], T]) -> T:
        """What the job makes of the logbook; see `do`.

        Raises:
            Problem: the logbook cannot be used.
        """
        return await self.do(lambda: self._asked(job))

    async def unkept(self) -> str:
        """That nothing that is flown is kept, and why; "" where it is."""
        return await self.ask(lambda logbook: logbook.unkept)

    async def do(self, job: Callable[[], T]) -> T:
        """What a job gives that writes or reads; they are done in the order they are asked for.

        What was asked for is done, even where nobody waits for it any more.
        """
        return await asyncio.shield(asyncio.wrap_future(self._writing.submit(job)))

    def now(self, job: Callable[[Logbook], T]) -> T:
        """The same for a caller in a thread of its own, which waits for it."""
        return self._writing.submit(self._asked, job).result()

    def close(self) -> None:
        """Do what was asked of the logbook, and close it; of pictures, end the one being drawn."""
        self._writing.submit(self._close)
        self._writing.shutdown()
        self.pictures.close()

    def _asked(self, job: Callable[[Logbook], T]) -> T:
        if self._logbook is None:
            self._logbook = Logbook.to_fly_with()
        return job(self._logbook)

    def _close(self) -> None:
        if self._logbook is not None:
            self._logbook.close()
            self._logbook = None
