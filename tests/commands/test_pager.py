"""Promises of a long brief at a terminal: it goes through the student's pager."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time

import pytest

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")

FIRST_LINE = "Climb at constant speed"


def coach(words: str, rows: int, pager: str, keys: bytes = b"") -> tuple[int, str]:
    """How a command ends at a terminal, and what stood on it."""
    ours, theirs = os.openpty()
    given = {"TERM": "xterm", "LINES": str(rows), "COLUMNS": "80", "PAGER": pager, "LESS": ""}
    process = subprocess.Popen(
        [sys.executable, "-m", "coach", *words.split()],
        stdin=theirs, stdout=theirs, stderr=theirs, env={**os.environ, **given},
        start_new_session=True,
    )  # fmt: skip
    os.close(theirs)
    seen, until = b"", time.monotonic() + 60.0
    with contextlib.suppress(OSError):  # so ends a terminal whose programs are gone
        while time.monotonic() < until and (read := os.read(ours, 65536)):
            seen += read
            if keys and FIRST_LINE.encode() in seen:
                os.write(ours, keys)
    os.close(ours)
    return process.wait(60.0), seen.decode(errors="replace")


def test_what_is_longer_than_the_terminal_is_paged_and_nothing_else() -> None:
    numbered = "     1\t"  # so `cat -n` marks what it was given
    status, seen = coach("brief climb-at-constant-speed", 24, "cat -n")
    assert status == 0 and f"{numbered}{FIRST_LINE}" in seen
    for words, rows in (
        ("brief climb-at-constant-speed", 300),
        ("brief climb-at-constant-speed --short", 24),
        ("brief climb-at-constant-speed --json", 24),
    ):
        status, seen = coach(words, rows, "cat -n")
        assert status == 0 and FIRST_LINE in seen and numbered not in seen


@pytest.mark.skipif(shutil.which("less") is None, reason="there is no less")
def test_a_pager_is_left_with_q() -> None:
    status, seen = coach("brief climb-at-constant-speed", 24, "less", b"q")
    assert status == 0
    assert FIRST_LINE in seen and "licensed instructor" not in seen


def test_without_a_pager_the_brief_is_printed() -> None:
    status, seen = coach("brief climb-at-constant-speed", 24, "no-such-pager-anywhere")
    assert status == 0
    assert FIRST_LINE in seen and "licensed instructor" in " ".join(seen.split())
