"""Nothing of a forgotten student stays in a room's file either."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coach.commands.cli import main
from coach.logbook.logbook import Logbook
from coach.page.room import file
from coach.page.room.room import Room
from tests.logbook.examples import RUN
from tests.page.people import Served, let_in

HERE = "192.0.2.7"  # an address for documentation, RFC 5737


def left(name: str, *students: str) -> Room:
    """A room that was closed with these in it."""
    room = Room(name)
    for student in students:
        let_in(room, student, room.door.code, HERE, 0.0)
    file.write(name, file.text(room, 8642, 0.0))
    return room


def forget(student: str) -> Result:
    return CliRunner().invoke(main, ["logbook", "--forget", student, "--yes"])


def written(home: Path, student: str) -> bool:
    return any(student.encode() in one.read_bytes() for one in home.rglob("*") if one.is_file())


def test_forgetting_takes_a_student_out_of_every_room_and_leaves_the_others_as_they_were(
    home: Path,
) -> None:
    blue, _ = left("Blue", "Ada Field", "Bo"), left("Green", "Ada Field")
    with Logbook() as log:
        log.add([replace(RUN, student="Ada Field")])
    told = forget("Ada Field")
    assert told.stderr == "Removed: 1 run and a place in 2 rooms of Ada Field.\n"
    assert not written(home, "Ada Field")
    again, port = file.restored("Blue")
    assert (again.door.code, again.key, port) == (blue.door.code, blue.key, 8642)
    assert [one.name for one in again.door.students.values()] == ["Bo"]
    assert "nothing of a student 'Ada Field'" in forget("Ada Field").stderr


def test_who_only_joined_a_room_can_be_forgotten(home: Path) -> None:
    left("Blue", "Ada Field")
    assert forget("Ada Field").stderr == "Removed: a place in 1 room of Ada Field.\n"
    assert not written(home, "Ada Field")


def test_nobody_is_forgotten_while_their_room_is_open(home: Path) -> None:
    room = left("Blue", "Ada Field")
    server = Served(home, "Blue")
    told = forget("Ada Field")
    assert told.exit_code == 1
    assert (
        "The name Ada Field stands in the room Blue, which is open: close it first" in told.stderr
    )
    server.end()
    assert file.restored("Blue")[0].door.code == room.door.code
    assert forget("Ada Field").exit_code == 0
    assert not written(home, "Ada Field")


def test_the_names_in_a_room_that_is_over_or_damaged_go_when_another_opens(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left("Blue", "Ada Field")
    later = time.time() + file.LASTS_S + 1.0
    monkeypatch.setattr(time, "time", lambda: later)
    left("Green", "Bo Field")
    file.place("Red").write_text('{"students": [{"name": "Cleo Field"}]')
    file.restored("Yellow")
    assert not written(home, "Ada Field") and not written(home, "Cleo Field")
    assert len(file.restored("Green")[0].door.students) == 1
