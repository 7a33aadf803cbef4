"""Time that passes only while somebody sleeps: nothing is waited for, and all comes in its order."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable

from coach.sound.timekeeper import Ends, Timekeeper


class Hurried(Timekeeper):
    """An hour in the time that it takes to do what is done in it, the same way each time.

    What is done again and again is done in the sleeper's own thread, when its time has come.
    """

    def __init__(self) -> None:
        self._now = 1000.0
        self._due: list[tuple[float, int, Callable[[], float | None]]] = []
        self._ended: set[int] = set()
        self._numbers = itertools.count()

    def now(self) -> float:
        return self._now

    def sleep(self, seconds: float) -> None:
        until = self._now + seconds
        while self._due and self._due[0][0] <= until:
            at, number, do = heapq.heappop(self._due)
            if number in self._ended:
                continue
            self._now = at
            rest_s = do()
            if rest_s is not None:
                heapq.heappush(self._due, (at + rest_s, number, do))
        self._now = until

    def again_and_again(self, do: Callable[[], float | None]) -> Ends:
        number = next(self._numbers)
        heapq.heappush(self._due, (self._now, number, do))
        return lambda _: self._ended.add(number)
