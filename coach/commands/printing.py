"""Where the commands print what is more than a line."""

from __future__ import annotations

import sys

import click
from rich.console import Console, RenderableType


def console(*, stderr: bool = False) -> Console:
    """The terminal, on which a name shows as it is written, brackets and colons included."""
    return Console(stderr=stderr, highlight=False, markup=False, emoji=False)


def paged(page: RenderableType) -> None:
    """Print a page, through the student's pager where it is longer than the terminal is high.

    Where there is no terminal, no key to turn pages with, or no pager, it is printed as it is.
    """
    terminal = console()
    with terminal.capture() as written:
        terminal.print(page)
    text = written.get()
    lines = text.count("\n") + 1  # with the one on which the shell goes on
    if lines > terminal.height and sys.stdin.isatty() and sys.stdout.isatty():
        click.echo_via_pager(text)
    else:
        print(text, end="")  # as the terminal's own encoding has it
