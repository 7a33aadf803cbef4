"""The student's logbook, as a command uses it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from coach.problems import nearest
from coach.words import counted, listed

if TYPE_CHECKING:
    from coach.logbook.logbook import Logbook


def held(book: Logbook, student: str) -> str:
    """What is kept of a student on this machine, in words.

    Raises:
        Problem: nothing is.
    """
    from coach.page.room.file import rooms_of

    runs, calibrations = book.holds(student)
    rooms = len(rooms_of(student))
    found = [counted(runs, "run")] if runs else []
    found += [counted(calibrations, "calibration")] if calibrations else []
    found += [f"a place in {counted(rooms, 'room')}"] if rooms else []
    if not found:
        raise book.unknown(student)
    return f"{listed(found)} {f'of {student}' if student else 'without a name'}"


def forget(book: Logbook, student: str) -> None:
    """Remove all of it.

    Raises:
        Problem: nothing is removed from the logbook, as a room that they are in is open.
    """
    from coach.page.room import file

    file.forget(student)
    if any(book.holds(student)):
        book.forget(student)


@contextlib.contextmanager
def logbook() -> Iterator[Logbook]:
    """The open logbook; what was found wrong with it is told, as it is opened and at the end."""
    from coach.logbook.logbook import Logbook

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
