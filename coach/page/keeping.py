"""A room's file: what lets a server that was started again go on with the room as it was."""

from __future__ import annotations

import contextlib
import re
import time
from pathlib import Path

from pydantic import BaseModel, ValidationError

from coach.page.chosen import Chosen
from coach.page.messages import State
from coach.page.room import Room
from coach.page.student import Student
from coach.problems import written
from coach.shelf import data_folder

LASTS_S = 12 * 3600.0
"""A room that nobody used for so long was another day's lesson: it begins anew, with a new code."""


class _Student(BaseModel):
    number: int
    name: str
    token: str
    next_tap: int
    run: int | None
    taps: int


class _Kept(BaseModel):
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
    students: list[_Student]


def place(name: str) -> Path:
    """The file of the room of that name."""
    plain = re.sub(r"\W+", "-", name.casefold()).strip("-") or "room"
    return data_folder() / "rooms" / f"{plain}.json"


def kept(room: Room, port: int, now_s: float) -> str:
    """What the file of a room says."""
    return _Kept(
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
            _Student.model_validate(student, from_attributes=True)
            for student in room.students.values()
        ],
    ).model_dump_json()


def write(name: str, text: str) -> None:
    """Write a room's file, for the eyes of this machine's user alone.

    Raises:
        Problem: it cannot be written.
    """
    path = place(name)
    with written(path) as part:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.touch(mode=0o600)
        part.write_text(text, encoding="utf-8")


def restored(name: str) -> tuple[Room, int]:
    """The room of that name as it was left, or a new one.

    A run that was going on is still going on: the instructor's page tells whether it still sounds.

    Returns:
        The room, its rehearsal not prepared yet, and the port it was served on; 0 where it is new.

    Raises:
        Problem: the name cannot be one.
    """
    room = Room(name)
    with contextlib.suppress(OSError, ValidationError):
        left = _Kept.model_validate_json(place(room.name).read_text(encoding="utf-8"))
        if left.name == room.name and 0.0 <= time.time() - left.written < LASTS_S:
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
