"""Pictures, each drawn once, by processes that hold nothing else up."""

from __future__ import annotations

import asyncio
import itertools
import os
from collections.abc import Awaitable, Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from coach.drawing.worker import Draughtsman, Order

AT_ONCE = min(2, os.cpu_count() or 1)
"""So many are drawn at once: what else the machine does has room beside two."""

MOST_KEPT = 600
"""Of a full room, two for everybody, and the instructor's."""


@dataclass(eq=False)
class _Picture:
    """A picture that is waited for, drawn or kept.

    Attributes:
        of: what it shows.
        order: what is to be drawn, asked for when its turn comes.
        drawn: the SVG.
        begun: whether its turn has come.
    """

    of: object
    order: Callable[[], Awaitable[Order]]
    drawn: asyncio.Future[bytes]
    begun: bool = False


class Pictures:
    """Drawn in turn, by processes that are started with the first one."""

    def __init__(self) -> None:
        """Nothing is drawn yet."""
        self._kept: dict[Hashable, _Picture] = {}
        self._waiting: asyncio.PriorityQueue[tuple[bool, int, _Picture]] = asyncio.PriorityQueue()
        self._numbers = itertools.count()
        self._draughtsmen = [Draughtsman() for _ in range(AT_ONCE)]
        self._threads = ThreadPoolExecutor(AT_ONCE, "drawing")
        self._drawing: list[asyncio.Task[None]] = []

    async def drawn(self, order: Order) -> bytes:
        """A picture's SVG, drawn before all that are not ahead.

        Raises:
            Problem: it cannot be drawn.
        """

        async def ordered() -> Order:
            return order

        return await asyncio.shield(self._turn(None, ordered, ahead=True).drawn)

    async def kept(
        self,
        place: Hashable,
        of: object,
        order: Callable[[], Awaitable[Order]],
        *,
        ahead: bool = False,
    ) -> bytes:
        """The same of a picture that may be asked for again, by many and often.

        Whoever does while it waits, is being drawn, or shows what is so now, is given the same one:
        so no more than one waits for each place.

        Args:
            place: whose it is, and which of theirs.
            of: what it shows, as far as that can change: a value that is equal until it does.
            order: what is to be drawn.
            ahead: whether it is drawn before all that are not.

        Raises:
            Problem: it cannot be drawn, or there is nothing to be drawn.
        """
        picture = self._kept.pop(place, None)
        if picture is None or (picture.begun and picture.of != of):
            picture = self._turn(of, order, ahead=ahead)
        elif not picture.begun:
            picture.of, picture.order = of, order
        self._kept[place] = picture
        if len(self._kept) > MOST_KEPT:  # the one that was not asked for the longest
            del self._kept[next(iter(self._kept))]
        try:
            return await asyncio.shield(picture.drawn)
        except Exception:
            if self._kept.get(place) is picture:  # the next time it may be
                del self._kept[place]
            raise

    def close(self) -> None:
        """End those being drawn."""
        for task in self._drawing:
            task.cancel()
        for draughtsman in self._draughtsmen:
            draughtsman.close()
        self._threads.shutdown(cancel_futures=True)

    def _turn(self, of: object, order: Callable[[], Awaitable[Order]], *, ahead: bool) -> _Picture:
        if not self._drawing:
            self._drawing = [asyncio.create_task(self._draw(one)) for one in self._draughtsmen]
        picture = _Picture(of, order, asyncio.get_running_loop().create_future())
        self._waiting.put_nowait((not ahead, next(self._numbers), picture))
        return picture

    async def _draw(self, draughtsman: Draughtsman) -> None:
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(self._threads, draughtsman.start)
        while True:
            *_, picture = await self._waiting.get()
            picture.begun = True
            try:
                order = await picture.order()
                drawn = await loop.run_in_executor(self._threads, draughtsman.draw, order)
            except Exception as error:  # told to those who asked; the next ones are drawn
                picture.drawn.set_exception(error)
                picture.drawn.exception()  # whoever asked may be gone
            else:
                picture.drawn.set_result(drawn)
