"""Bytes from a Windows console or a pipe."""

from __future__ import annotations

import msvcrt
import os
import sys
import time

assert sys.platform == "win32"

_LOOK_S = 0.002  # between two looks at the console, which cannot be waited for and left


class Source:
    """A console that is looked at in one thread and let go from another.

    A pipe cannot be let go: its reader waits on until the pipe or the program ends.
    """

    def __init__(self, descriptor: int) -> None:
        """Nothing to prepare: the console's keys are read without echo as they are."""
        self.is_terminal = os.isatty(descriptor)
        self._descriptor = descriptor
        self.over = False

    def quieten(self) -> None:
        """Nothing to do on a console."""

    def restore(self) -> None:
        """Nothing to undo on a console."""

    def read(self, patience_s: float | None) -> bytes | None:
        """Wait for one key of a console, or for the bytes of a pipe.

        Args:
            patience_s: how long at most; None for as long as it takes.

        Returns:
            What has arrived, in UTF-8; ``b""`` at the end of input; None when the time is over.
        """
        if not self.is_terminal:
            return os.read(self._descriptor, 1024)
        until = None if patience_s is None else time.perf_counter() + patience_s
        while not self.over:
            if msvcrt.kbhit():
                sign = msvcrt.getwch()
                if sign not in "\x00\xe0":
                    return sign.encode("utf-8", "ignore") or None
                msvcrt.getwch()  # the second half of an arrow or a function key
            elif until is not None and time.perf_counter() > until:
                return None
            else:
                time.sleep(_LOOK_S)
        return b""

    def wake(self) -> None:
        """Let a waiting ``read`` return."""
        self.over = True

    def close(self) -> None:
        """Nothing was opened."""
