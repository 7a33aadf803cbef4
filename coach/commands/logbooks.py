"""The student's logbook, as a command uses it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import click

from coach.commands.saying import say
from coach.logbook.logbook import Logbook
from coach.logbook.texts import taken
from coach.problems import Problem, nearest
from coach.words import name


@contextlib.contextmanager
def opened(*, to_fly: bool = False) -> Iterator[Logbook]:
    """The open logbook; what was found wrong with it is told, as it is opened and at the end.

    Args:
        to_fly: whether one will do in which nothing is kept.
    """
    with Logbook.to_fly_with() if to_fly else Logbook() as book:
        if told := book.unkept or book.note:
            say(told, err=True)
        try:
            yield book
        finally:
            if book.damage:
                say(book.damage, err=True)


def somebody(_: click.Context, option: click.Parameter, given: str | None) -> str | None:
    """Whose run it will be, as a name is kept; the callback of such an option."""
    return name(given, option.opts[0]) if given else given


def anybody(_: click.Context, option: click.Parameter, given: str | None) -> str | None:
    """Who is looked for, as names are kept in the logbook; the callback of such an option."""
    try:
        return given and taken(given)
    except ValueError as error:
        raise Problem(f"{error}.", option.name or "") from None


def no_run(book: Logbook, student: str | None) -> str:
    """Why there is nothing to show of a student, or of everybody for None."""
    known = [name for name in book.students() if name]
    if student:
        return f"There is no run of '{student}'{nearest(student, known)}"
    if known:
        return f"There is no run without a name; add --student for {' or '.join(known)}."
    return "There is no run yet: start with coach rehearse lazy-eight."
