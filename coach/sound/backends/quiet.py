"""Keeps what sound libraries write to stderr off the student's screen."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

_lock = threading.Lock()
_holders = 0
_kept = -1
_shown: TextIO | None = None


@contextmanager
def quiet() -> Iterator[None]:
    """Send file descriptor 2 nowhere for a while: the libraries write to it without Python.

    Python's own ``sys.stderr`` goes on to where it went, so no traceback is lost.
    """
    hush()
    try:
        yield
    finally:
        unhush()


def hush() -> None:
    """Begin to be quiet; as many :func:`unhush` end it as there were calls of this."""
    global _holders, _kept, _shown
    with _lock:
        _holders += 1
        if _holders > 1:
            return
        try:
            _kept = os.dup(2)
        except OSError:  # there is no stderr to keep clean
            _kept = -1
            return
        if _is_descriptor_2(sys.stderr):
            sys.stderr.flush()
            _shown = sys.stderr
            sys.stderr = os.fdopen(os.dup(_kept), "w", buffering=1, errors="backslashreplace")
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)


def unhush() -> None:
    """End one :func:`hush`."""
    global _holders, _kept, _shown
    with _lock:
        _holders -= 1
        if _holders or _kept < 0:
            return
        os.dup2(_kept, 2)
        os.close(_kept)
        _kept = -1
        if _shown is not None:
            # Whoever kept hold of the stand-in may still write to it, so it is not closed.
            sys.stderr.flush()
            sys.stderr, _shown = _shown, None


def _is_descriptor_2(stream: TextIO | None) -> bool:
    try:
        return stream is not None and stream.fileno() == 2
    except (OSError, ValueError):  # a test's or a page's own stream
        return False
