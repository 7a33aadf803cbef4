"""Keeps what sound libraries write to stderr off the student's screen."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet() -> Iterator[None]:
    """Send file descriptor 2 nowhere for a moment: the libraries write to it without Python."""
    try:
        sys.stderr.flush()
        kept = os.dup(2)
    except (OSError, AttributeError, ValueError):  # no stderr: nothing to keep clean
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
