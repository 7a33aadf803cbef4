"""How the commands say something: whole words on each line of a terminal."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import textwrap
from typing import TextIO

import click


def say(said: str = "", *, err: bool = False) -> None:
    """Print a sentence or some lines, to standard output or to standard error."""
    click.echo(fitted(said, sys.stderr if err else sys.stdout), err=err)


def fitted(said: str, stream: TextIO) -> str:
    """What is said, broken between words where a line is longer than the terminal is wide.

    A line that is set in goes on further in. What goes to a file or another program stays as it is.
    """
    if not stream.isatty():
        return said
    lines: list[str] = []
    for line in said.split("\n"):
        further = len(line) - len(line.lstrip())
        lines += textwrap.wrap(
            line,
            _columns(stream),
            subsequent_indent=" " * (further and further + 2),
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    return "\n".join(lines)


def _columns(stream: TextIO) -> int:
    """How wide the terminal is, as the student has it or as it says."""
    if not os.environ.get("COLUMNS"):
        with contextlib.suppress(OSError):
            return os.get_terminal_size(stream.fileno()).columns or 80
    return shutil.get_terminal_size().columns
