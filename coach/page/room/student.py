"""Somebody in a room, and what they may be called."""

from __future__ import annotations

import secrets
import unicodedata
from dataclasses import dataclass, field

from coach.page.alone.chosen import LONGEST_NAME
from coach.page.room.clocks import BrowserClock
from coach.page.room.messages import Tap
from coach.problems import Problem

CODE_DIGITS = 6


def new_code() -> str:
    """A joining code, digits that anybody can type."""
    return "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))


def new_secret() -> str:
    """A key or a token that nobody guesses."""
    return secrets.token_urlsafe(24)


@dataclass(eq=False)
class Student:
    """Somebody in the room.

    Attributes:
        number: in this room, from 1.
        name: as they gave it, tidied.
        token: what their phone comes back with.
        next_tap: the number of their next tap; an earlier one was taken already.
        run: their run's number in the logbook; None before their first tap in a run.
        taps: how many belong to this run.
        connections: counts how often their phone came.
        here: whether it is connected.
        clock: their phone's.
        waiting: taps that wait for the clock.
    """

    number: int
    name: str
    token: str
    next_tap: int = 1
    run: int | None = None
    taps: int = 0
    connections: int = 0
    here: bool = False
    clock: BrowserClock = field(default_factory=BrowserClock)
    waiting: list[Tap] = field(default_factory=list)


class Taken(Problem):
    """A name is somebody's already.

    Attributes:
        gone: whether their phone is gone, so that it may be they who want to come in.
    """

    def __init__(self, student: Student) -> None:
        self.gone = not student.here
        super().__init__(
            f"{student.name} was in the room, and the phone is gone. If that was you, go on with "
            "your taps; if not, add a letter to your name."
            if self.gone
            else f"{student.name} is in the room already: add a letter to your name, or close the "
            "other page if that is you."
        )


def tidy(name: str, what: str) -> str:
    """A name as plain text on one line.

    Raises:
        Problem: nothing is left of it, or it is too long.
    """
    plain = "".join(_visible(one) for one in unicodedata.normalize("NFC", name))
    tidied = " ".join(plain.split())
    if not tidied:
        raise Problem(f"{what} is empty: give a first name or a nickname.")
    if len(tidied) > LONGEST_NAME:
        raise Problem(f"{what} is too long: {LONGEST_NAME} letters at most.")
    return tidied


def _visible(letter: str) -> str:
    # Control, format (such as one that turns the writing's direction) and unassigned characters.
    return " " if letter.isspace() else "" if unicodedata.category(letter)[0] == "C" else letter


def same(one: str, other: str) -> bool:
    """Whether two names would be taken for one."""
    first, second = (unicodedata.normalize("NFKC", name).casefold() for name in (one, other))
    return first == second
