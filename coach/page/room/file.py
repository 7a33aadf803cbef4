"""A room's file: what lets a server that was started again go on with the room as it was.

A room has one file, and one server at a time: a lock beside the file says whether it is open. What
is looked at is the name in a file, whatever the file is called.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from coach.hand.grip import Grip
from coach.logbook.file import alone
from coach.page.alone.chosen import Chosen
from coach.page.hand.hand import Hand
from coach.page.room.messages import State
from coach.page.room.room import Room
from coach.page.room.student import Student
from coach.page.server.names import tidy
from coach.problems import Problem, writing, written
from coach.shelf import data_folder, found, made

LASTS_S = 12 * 3600.0
"""A room that nobody used for so long was another day's lesson: it begins anew, with a new code."""


class _Held(BaseModel):
    """How a student holds the phone that is the airplane."""

    phone: str
    grip: Grip


class _Seat(BaseModel):
    """A student's, for when they come back."""

    number: int
    name: str
    token: str
    address: str = ""
    next_tap: int
    run: int | None
    runs: list[int] = []
    taps: int
    hand: _Held | None = None

    def student(self) -> Student:
        """Who they were."""
        hand = None if self.hand is None else Hand(self.hand.phone, self.hand.grip)
        return Student(**self.model_dump(exclude={"hand"}), hand=hand)


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
    out: list[str] = []

    def holds(self, student: str) -> bool:
        """Whether somebody's name stands in it."""
        return student in (*(one.name for one in self.students), *self.out)


def place(name: str) -> Path:
    """The file of the room of that name, and of no other."""
    plain = re.sub(r"\W+", "-", name.casefold()).strip("-") or "room"
    exact = hashlib.sha256(name.encode()).hexdigest()[:8]
    return _folder() / f"{plain}-{exact}.json"


def text(room: Room, port: int, now_s: float) -> str:
    """What the file of a room says."""
    return _Written(
        name=room.name,
        code=room.door.code,
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
            for student in room.door.students.values()
        ],
        out=room.door.out,
    ).model_dump_json()


def write(name: str, text: str) -> None:
    """Write a room's file, for the eyes of this machine's user alone.

    Raises:
        Problem: it cannot be written.
    """
    path = place(name)
    with writing(path):
        made(path.parent)
    _write(path, text)


def _write(path: Path, text: str) -> None:
    with written(path, private=True) as part:
        part.write_text(text, encoding="utf-8")


def rooms_of(student: str) -> list[str]:
    """The names of the rooms that a student's name stands in, on disk."""
    return sorted({room.name for room in _left().values() if room.holds(student)})


def forget(student: str) -> None:
    """Take a student out of every room's file.

    Raises:
        Problem: a room that they are in is open, or its file cannot be written.
    """
    for path, room in _left().items():
        if room.holds(student):
            others = {
                "students": [one for one in room.students if one.name != student],
                "out": [one for one in room.out if one != student],
            }
            try:
                with alone(_lock(room.name), 0.0):
                    _write(path, room.model_copy(update=others).model_dump_json())
            except sqlite3.Error:
                raise Problem(
                    f"The name {student} stands in the room {room.name}, which is open: close it "
                    "first."
                ) from None


@contextlib.contextmanager
def opened(name: str) -> Iterator[tuple[Room, int]]:
    """The room of that name for this process alone, as `restored` has it.

    While this lasts no other coach opens it, and nobody is forgotten whom it would write into its
    file again. Where nothing can be written there is no lock either, and the room goes on.

    Raises:
        Problem: it is open already, or the name cannot be one.
    """
    name = tidy(name, "The room's name")
    with contextlib.ExitStack() as stack:
        try:
            made(_folder())
            stack.enter_context(alone(_lock(name), 0.0))
        except (OSError, sqlite3.Error) as error:
            if "locked" in str(error):
                raise Problem(
                    f"The room {name} is open already on this machine: go on with it there, or "
                    "close it first."
                ) from None
        yield restored(name)


def restored(name: str) -> tuple[Room, int]:
    """The room of that name as it was left, or a new one.

    A run that was going on is still going on: the instructor's page tells whether it still sounds.

    Returns:
        The room, its rehearsal not prepared yet, and the port it was served on; 0 where it is new.

    """
    found = [room for room in _left().values() if room.name == name]
    if not found:
        return Room(name), 0
    left = max(found, key=lambda room: room.written)
    room = Room(name, left.code, left.key)
    room.restore(left.state, left.run, left.chosen, left.position_s)
    room.door.restore((one.student() for one in left.students), left.out)
    room.names_shown = left.names_shown
    return room, left.port


def _folder() -> Path:
    return data_folder() / "rooms"


def _lock(name: str) -> Path:
    return place(name).with_suffix(".lock")


def _left() -> dict[Path, _Written]:
    """The rooms that can be gone on with; other files, of no use but with names in them, go.

    A file from the future stays, for it is the clock that was set back.
    """
    left = {}
    for path in found(_folder(), "*.json"):
        with contextlib.suppress(OSError):
            try:
                room = _Written.model_validate_json(path.read_text(encoding="utf-8"))
            except ValueError:
                path.unlink()
                continue
            if time.time() - room.written < LASTS_S:
                left[path] = room
            else:
                path.unlink()
    return left
