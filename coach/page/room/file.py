"""A room's file: what lets a server that was started again go on with the room as it was."""

from __future__ import annotations

import contextlib
import re
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from coach.logbook.file import alone
from coach.page.alone.chosen import Chosen
from coach.page.room.messages import State
from coach.page.room.room import Room
from coach.page.room.student import Student
from coach.problems import Problem, writing, written
from coach.shelf import data_folder, made

LASTS_S = 12 * 3600.0
"""A room that nobody used for so long was another day's lesson: it begins anew, with a new code."""


class _Seat(BaseModel):
    """A student's, for when they come back."""

    number: int
    name: str
    token: str
    next_tap: int
    run: int | None
    taps: int


class _Written(BaseModel):
    name: str
    code: str
    key: str
    port: int
    written: float
    state: State
    run: int
    position_s: float
    names_shown: bool
    chosen: Chosen | None
    students: list[_Seat]


def place(name: str) -> Path:
    """The file of the room of that name."""
    plain = re.sub(r"\W+", "-", name.casefold()).strip("-") or "room"
    return data_folder() / "rooms" / f"{plain}.json"


def text(room: Room, port: int, now_s: float) -> str:
    """What the file of a room says."""
    return _Written(
        name=room.name,
        code=room.code,
        key=room.key,
        port=port,
        written=time.time(),
        state=room.state,
        run=room.run,
        position_s=room.position_s(now_s),
        names_shown=room.names_shown,
        chosen=room.chosen,
        students=[
            _Seat.model_validate(student, from_attributes=True)
            for student in room.students.values()
        ],
    ).model_dump_json()


def write(name: str, text: str) -> None:
    """Write a room's file, for the eyes of this machine's user alone.

    Raises:
        Problem: it cannot be written.
    """
    path = place(name)
    with writing(path):
        made(path.parent)
    with written(path, private=True) as part:
        part.write_text(text, encoding="utf-8")


def rooms_of(student: str) -> list[str]:
    """The names of the rooms that a student has a place in, on disk."""
    return [room.name for room in _left() if any(one.name == student for one in room.students)]


def forget(student: str) -> None:
    """Take a student out of every room's file.

    Raises:
        Problem: a room that they are in is open, or its file cannot be written.
    """
    for room in _left():
        others = [one for one in room.students if one.name != student]
        if len(others) < len(room.students):
            try:
                with alone(_lock(room.name), 0.0):
                    write(room.name, room.model_copy(update={"students": others}).model_dump_json())
            except sqlite3.Error:
                raise Problem(
                    f"{student} is in the room {room.name}, which is open: remove them on its page "
                    "first, or close it."
                ) from None


@contextlib.contextmanager
def going_on(name: str) -> Iterator[None]:
    """While this lasts, nobody is forgotten whom the room would write into its file again."""
    with contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError, sqlite3.Error):  # where nothing can be written
            made(place(name).parent)
            stack.enter_context(alone(_lock(name), 0.0))
        yield


def restored(name: str) -> tuple[Room, int]:
    """The room of that name as it was left, or a new one.

    A run that was going on is still going on: the instructor's page tells whether it still sounds.

    Returns:
        The room, its rehearsal not prepared yet, and the port it was served on; 0 where it is new.

    Raises:
        Problem: the name cannot be one.
    """
    room = Room(name)
    for left in _left():
        if left.name == room.name:
            room = Room(left.name, left.code, left.key)
            room.restore(
                left.state,
                left.run,
                left.chosen,
                left.position_s,
                [Student(**student.model_dump()) for student in left.students],
            )
            room.names_shown = left.names_shown
            return room, left.port
    return room, 0


def _lock(name: str) -> Path:
    return place(name).with_suffix(".lock")


def _left() -> list[_Written]:
    """The rooms that can be gone on with; other files, of no use but with names in them, go."""
    left = []
    for path in sorted(place("").parent.glob("*.json")):
        with contextlib.suppress(OSError):
            try:
                room = _Written.model_validate_json(path.read_text(encoding="utf-8"))
            except ValueError:
                path.unlink()
                continue
            if 0.0 <= time.time() - room.written < LASTS_S:
                left.append(room)
            else:
                path.unlink()
    return left
