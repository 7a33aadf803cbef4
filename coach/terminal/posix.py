"""Bytes from a terminal or a pipe, where the system has terminals in the POSIX sense."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import termios

assert sys.platform != "win32"


class Source:
    """A file descriptor that is waited for in one thread and let go from another."""

    def __init__(self, descriptor: int) -> None:
        """Leave the descriptor as it is until ``quieten``."""
        self.is_terminal = os.isatty(descriptor)
        self._descriptor = descriptor
        self.over = False
        self._before: list[int | list[bytes | int]] | None = None
        self._woken, self._wake = os.pipe()

    def quieten(self) -> None:
        """Hand over every byte at once, without echo; Ctrl-S and the like become keys."""
        if not self.is_terminal:
            return
        # A terminal that belongs to somebody else, or is gone, refuses.
        with contextlib.suppress(termios.error):
            self._before = termios.tcgetattr(self._descriptor)
            mode = termios.tcgetattr(self._descriptor)
            mode[0] &= ~termios.IXON
            mode[3] &= ~(termios.ECHO | termios.ICANON | termios.IEXTEN)
            mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
            termios.tcsetattr(self._descriptor, termios.TCSANOW, mode)

    def restore(self) -> None:
        """Put the terminal back as ``quieten`` found it."""
        if self._before is not None:
            with contextlib.suppress(termios.error):
                termios.tcsetattr(self._descriptor, termios.TCSANOW, self._before)
            self._before = None

    def read(self, patience_s: float | None) -> bytes | None:
        """Wait for bytes.

        Args:
            patience_s: how long at most; None for as long as it takes.

        Returns:
            What has arrived; ``b""`` at the end of input; None when the time is over.
        """
        ready, _, _ = select.select([self._woken, self._descriptor], [], [], patience_s)
        if not ready:
            return None
        if self._woken in ready:
            return b""
        try:
            return os.read(self._descriptor, 1024)
        except OSError:
            return b""

    def wake(self) -> None:
        """Let a waiting ``read`` return."""
        self.over = True
        os.write(self._wake, b".")

    def close(self) -> None:
        """Close what this source opened itself; nobody may be reading."""
        os.close(self._woken)
        os.close(self._wake)
