"""A room's file is of one room, of one server, and outlasts a clock that is set back."""

from __future__ import annotations

import json
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from coach.commands.cli import main
from coach.page.room import file
from coach.page.room.room import Room
from coach.problems import Problem
from tests.page.people import Served, let_in, served


def left(name: str, *students: str) -> Room:
    """A room that was closed with these in it."""
    room = Room(name)
    for student in students:
        let_in(room, student, room.door.code)
    file.write(name, file.text(room, 8642, 0.0))
    return room


def names(room: str) -> list[str]:
    """Who is in the room that its file gives."""
    return [one.name for one in file.restored(room)[0].door.students.values()]


@contextmanager
def elsewhere(name: str) -> Iterator[None]:
    """Another server has the room open."""
    with file.opened(name):
        yield


@pytest.mark.parametrize("moved_s", [-2.0, -3600.0, -400 * 86400.0, 60.0])
def test_a_clock_that_is_set_deletes_no_rooms_file(
    home: Path, monkeypatch: pytest.MonkeyPatch, moved_s: float
) -> None:
    students = [f"S{number}" for number in range(29)]
    left("Blue", *students)
    now = time.time() + moved_s
    monkeypatch.setattr(time, "time", lambda: now)
    assert names("Blue") == students
    file.rooms_of("S1")
    assert names("Blue") == students


def test_a_file_goes_when_nobody_used_it_for_half_a_day_and_not_before(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left("Blue", "Ada")
    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + file.LASTS_S - 60.0)
    assert names("Blue") == ["Ada"]
    monkeypatch.setattr(time, "time", lambda: now + file.LASTS_S)
    assert names("Blue") == [] and not file.place("Blue").exists()


def test_rooms_whose_names_are_nearly_the_same_have_files_of_their_own(home: Path) -> None:
    alike = ["Room A", "room-a", "room a", "ROOM A", "Room, A!", "R\u00f6\u00f6m A", "\u2708", "!"]
    for number, name in enumerate(alike):
        left(name, f"S{number}")
    assert [names(name) for name in alike] == [[f"S{number}"] for number in range(len(alike))]
    for one in (home / "rooms").iterdir():
        assert one.name.isascii() or "\u00f6" in one.name


def test_a_file_of_the_old_naming_is_found_by_what_it_holds(home: Path) -> None:
    room = left("Room A", "Ada")
    written = json.loads(file.place("Room A").read_text())
    file.place("Room A").unlink()
    del written["out"]
    for seat in written["students"]:
        del seat["runs"], seat["address"]
    (home / "rooms" / "room-a.json").write_text(json.dumps(written))
    again, port = file.restored("Room A")
    assert (again.door.code, again.key, port) == (room.door.code, room.key, 8642)
    assert names("Room A") == ["Ada"] and names("room-a") == []


def test_of_several_files_of_one_room_the_newest_counts(home: Path) -> None:
    left("Blue", "Ada")
    file.place("Blue").rename(home / "rooms" / "blue.json")
    left("Blue", "Ada", "Bo")
    assert names("Blue") == ["Ada", "Bo"]
    file.forget("Ada")
    assert names("Blue") == ["Bo"]
    assert b"Ada" not in b"".join(one.read_bytes() for one in (home / "rooms").iterdir())


def test_a_name_that_was_taken_out_of_a_room_can_be_forgotten_too(home: Path) -> None:
    room = left("Blue", "Ada Field")
    (ada,) = room.door.students
    room.door.remove(ada)
    file.write("Blue", file.text(room, 8642, 0.0))
    assert file.rooms_of("Ada Field") == ["Blue"]
    file.forget("Ada Field")
    assert b"Ada" not in file.place("Blue").read_bytes()


def test_a_room_that_is_open_is_not_opened_again(home: Path) -> None:
    with elsewhere("Blue"):
        with pytest.raises(Problem, match="The room Blue is open already on this machine"):
            file.opened(" Blue ").__enter__()
        with file.opened("blue"):  # another room
            pass
    with file.opened("Blue"):
        pass


def test_the_command_line_refuses_a_room_that_is_open_before_anything_is_served(
    home: Path,
) -> None:
    with elsewhere("Blue"):
        told = CliRunner().invoke(main, ["room", "Blue", "--no-browser"])
    assert told.exit_code == 1
    assert "The room Blue is open already on this machine" in told.stderr
    assert told.stdout == ""


def test_the_page_refuses_a_room_that_is_open_and_goes_on_with_one_that_was_left(
    home: Path,
) -> None:
    room = left("Green", "Ada")
    with elsewhere("Blue"), served(home) as alone, alone.client() as client:
        refused = client.post("/api/room", json={"name": "Blue"})
        assert refused.status_code == 400
        assert "The room Blue is open already on this machine" in refused.json()["problem"]
        assert client.get("/api/room").status_code == 404
        opened = client.post("/api/room", json={"name": "Green"}).json()
        assert opened["code"] == room.door.code
    assert names("Green") == ["Ada"]


def test_a_room_whose_server_was_killed_can_be_opened_at_once(home: Path) -> None:
    server = Served(home, "Blue")
    while not file.place("Blue").exists():  # written twice a second
        time.sleep(0.05)
    server.end(signal.SIGKILL)
    with file.opened("Blue") as (room, _):
        assert room.door.code == server.code
