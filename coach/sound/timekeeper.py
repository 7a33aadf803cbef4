"""Tells the time and does things in it: the machine's own, or one that a test moves on."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

Ends = Callable[["float | None"], None]
"""Ends something that is done again and again, and waits until it has ended, so long at most."""


class Timekeeper:
    """The machine's time, on ``time.perf_counter``."""

    def now(self) -> float:
        """Seconds, by a clock that never goes back."""
        return time.perf_counter()

    def sleep(self, seconds: float) -> None:
        """Let so much time pass."""
        time.sleep(seconds)

    def again_and_again(self, do: Callable[[], float | None]) -> Ends:
        """Have something done beside everything else, the first time at once.

        Args:
            do: does it, and says after how many seconds it is to be done again; None: never more.
        """
        ended = threading.Event()

        def going_on() -> None:
            rest_s = do()
            while rest_s is not None and not ended.wait(rest_s):
                rest_s = do()

        thread = threading.Thread(target=going_on, daemon=True)
        thread.start()

        def end(patience_s: float | None = None) -> None:
            ended.set()
            thread.join(patience_s)

        return end


MACHINE = Timekeeper()
