"""The student's keys, each with the time at which it arrived."""

from __future__ import annotations

import contextlib
import queue
import signal
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType

from coach.taps.pressing import Press
from coach.terminal.decoding import decode

if sys.platform == "win32":
    from coach.terminal.windows import Source
else:
    from coach.terminal.posix import Source

_ESCAPE_S = 0.05  # an escape that nothing follows within this time is the escape key
_UNREAD_S = 1.0  # a program that has not read a request to end for this long hangs
_REQUESTS = {"SIGINT": "ctrl-c", "SIGTERM": "closed", "SIGHUP": "closed"}


class Keys:
    """The keys of a terminal or a pipe while the ``with`` block lasts.

    A thread waits for input and stamps it, so a slow screen makes no tap late. Inside the block a
    terminal does not echo and hands over every key at once; afterwards it is as it was, whatever
    ended the block.

    Nothing breaks into the block: Ctrl-C arrives as ``"ctrl-c"``, the end of the terminal (also as
    SIGHUP) and SIGTERM as ``"closed"``. Only when such a request has lain unread for a second,
    because the program hangs, does the next one raise KeyboardInterrupt or SystemExit. Ctrl-Z stops
    the program as everywhere, with the terminal as it was. A signal that was ignored before
    (``nohup``) stays ignored. Outside the main thread Keys cannot take signals, and leaves them be.

    Where the input is no terminal, what it holds is read as keys, and its end means only that no
    more keys come: with ``< /dev/null``, in a scheduled job or under ``nohup``, a rehearsal goes on
    to its end without taps. Auto-repeat is passed on as it comes; no terminal tells it apart.
    """

    def __init__(
        self,
        descriptor: int | None = None,
        halted: Callable[[], contextlib.AbstractContextManager[None]] = contextlib.nullcontext,
    ) -> None:
        """Take nothing yet.

        Args:
            descriptor: the open file to read; standard input by default, or nothing without one.
            halted: what to enter while Ctrl-Z has stopped the program, to give the screen back.
        """
        self._halted = halted
        self._descriptor = _standard_input() if descriptor is None else descriptor
        # The one queue whose put may be interrupted by a signal that puts.
        self._arrived: queue.SimpleQueue[Press] = queue.SimpleQueue()
        self._unread_since: float | None = None
        self._leaving = contextlib.ExitStack()

    def presses(self) -> list[Press]:
        """What has arrived since the last call, in order, without waiting."""
        self._unread_since = None
        found: list[Press] = []
        with contextlib.suppress(queue.Empty):
            while True:
                found.append(self._arrived.get_nowait())
        return found

    def __enter__(self) -> Keys:
        """Take the signals and the terminal, and begin to read."""
        with contextlib.ExitStack() as undo:
            for name, key in _REQUESTS.items():
                _handle(name, self._request(key), undo)
            if self._descriptor is not None:
                source = Source(self._descriptor)
                undo.callback(source.restore)
                source.quieten()
                _handle("SIGTSTP", self._suspend(source), undo)
                reader = threading.Thread(target=self._read, args=(source,), daemon=True)
                reader.start()
                undo.callback(_stop, source, reader)
            self._leaving = undo.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        """Give everything back."""
        self._leaving.close()

    def _read(self, source: Source) -> None:
        """The reading thread: until the input ends, or the block does."""
        held, held_at = b"", 0.0
        while True:
            received = source.read(_ESCAPE_S if held else None)
            now = time.perf_counter()
            over = not received
            names, rest = decode(held + (received or b""), complete=over)
            for name in names:
                self._arrived.put(Press(name, held_at if over else now))
            if received == b"":
                break
            held, held_at = rest, now
        if source.is_terminal and not source.over:
            self._arrived.put(Press("closed", now))

    def _request(self, key: str) -> Callable[[int, FrameType | None], None]:
        """A signal's handler: a press, or an exception where presses are no longer read."""

        def handle(number: int, frame: FrameType | None) -> None:
            now = time.perf_counter()
            if self._unread_since is None:
                self._unread_since = now
            elif now - self._unread_since > _UNREAD_S:
                raise KeyboardInterrupt if key == "ctrl-c" else SystemExit(128 + number)
            self._arrived.put(Press(key, now))

        return handle

    def _suspend(self, source: Source) -> Callable[[int, FrameType | None], None]:
        """The handler of Ctrl-Z: stop as if there were none, then take the terminal again."""

        def handle(number: int, frame: FrameType | None) -> None:
            now = time.perf_counter()
            source.restore()
            with self._halted():
                ours = signal.signal(number, signal.SIG_DFL)
                signal.raise_signal(number)
                signal.signal(number, ours)
            source.quieten()
            self._arrived.put(Press("ctrl-z", now))

        return handle


def _handle(
    name: str, handler: Callable[[int, FrameType | None], None], undo: contextlib.ExitStack
) -> None:
    """Take a signal, where this system has it, this thread may, and nobody chose to ignore it."""
    number = getattr(signal, name, None)
    if number is None or threading.current_thread() is not threading.main_thread():
        return
    before = signal.getsignal(number)
    if before is not None and before is not signal.SIG_IGN:
        undo.callback(signal.signal, number, before)
        signal.signal(number, handler)


def _stop(source: Source, reader: threading.Thread) -> None:
    source.wake()
    # A reader that cannot be woken is left behind with what it reads.
    reader.join(timeout=0.5)
    if not reader.is_alive():
        source.close()


def _standard_input() -> int | None:
    """Its descriptor, or None where the program was started without or has replaced it."""
    try:
        return sys.stdin.fileno()
    except (AttributeError, OSError, ValueError):
        return None
