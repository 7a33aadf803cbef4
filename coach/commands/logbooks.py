"""The student's logbook, as a command uses it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import click

from coach.logbook.logbook import Logbook
from coach.problems import nearest


@contextlib.contextmanager
def opened() -> Iterator[Logbook]:
    """The open logbook; what was found wrong with it is told, as it is opened and at the end."""
    with Logbook() as book:
        if book.note:
            click.echo(book.note, err=True)
        try:
            yield book
        finally:
            if book.damage:
                click.echo(book.damage, err=True)


def no_run(book: Logbook, student: str | None) -> str:
    """Why there is nothing to show of a student, or of everybody for None."""
    known = [name for name in book.students() if name]
    if student:
        return f"There is no run of '{student}'{nearest(student, known)}"
    if known:
        return f"There is no run without a name; add --student for {' or '.join(known)}."
    return "There is no run yet: start with coach rehearse lazy-eight."
