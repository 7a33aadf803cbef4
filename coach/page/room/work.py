"""What a room does beside its messages, and what of it has to be finished."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any


class Work:
    """Tasks that nobody waits for, and tasks that are done to their end whoever stops waiting."""

    def __init__(self) -> None:
        """Nothing is going on."""
        self._tasks: set[asyncio.Task[None]] = set()
        self._answering: set[asyncio.Task[None]] = set()

    def soon(self, work: Coroutine[Any, Any, None]) -> None:
        """Begin it; it is given up where the server closes."""
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def surely(self, work: Coroutine[Any, Any, None]) -> None:
        """Done to its end, even where the server closes meanwhile, so no tap is written twice."""
        task = asyncio.create_task(work)
        self._answering.add(task)
        task.add_done_callback(self._answering.discard)
        await asyncio.shield(task)

    async def close(self) -> None:
        """Give up what may be, and finish what may not."""
        for task in self._tasks:
            task.cancel()
        if self._answering:
            await asyncio.wait(self._answering)
