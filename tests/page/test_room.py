"""Who comes into a room and who does not, and what its file remembers."""

from __future__ import annotations

import stat
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.page import keeping
from coach.page.chosen import LONGEST_NAME, Chosen
from coach.page.limits import Allowance
from coach.page.room import MOST_STUDENTS, Room
from coach.page.student import tidy
from coach.problems import Problem

HERE = "192.0.2.7"  # an address for documentation, RFC 5737


def kept(room: Room) -> None:
    """Its file written."""
    keeping.write(room.name, keeping.kept(room, 8642, 0.0))


def test_the_code_lets_in_and_may_be_typed_with_spaces() -> None:
    room = Room("Blue", code="123456")
    assert room.join(" Ada ", "123 456", HERE, 0.0).name == "Ada"


def test_a_wrong_code_lets_nobody_in() -> None:
    room = Room("Blue", code="123456")
    for wrong in ("", "123457", "12345", "1234567", "١٢٣٤٥٦", "123456\0"):
        with pytest.raises(Problem, match="not this room's code"):
            room.join("Ada", wrong, HERE, 0.0)
    assert not room.students


def test_whoever_tries_codes_soon_has_to_wait_even_with_the_right_one() -> None:
    room = Room("Blue", code="123456")
    tried = 0
    for attempt in range(100_000):  # an hour of trying as fast as can be
        try:
            room.join("Ada", "000000", HERE, attempt * 0.036)
        except Problem as problem:
            tried += "not this room's code" in str(problem)
    assert tried <= 10 + 3600 / 6
    with pytest.raises(Problem, match="Too many wrong codes: wait"):
        room.join("Ada", "123456", HERE, 3600.0)
    assert room.join("Bo", "123456", "192.0.2.8", 3600.0)
    assert room.join("Ada", "123456", HERE, 3700.0)


def test_whoever_tries_codes_from_many_addresses_has_to_wait_as_well() -> None:
    room = Room("Blue", code="123456")
    tried = 0
    for attempt in range(2000):
        try:
            room.join("Ada", "000000", f"192.0.2.{attempt}", 0.0)
        except Problem as problem:
            tried += "not this room's code" in str(problem)
    assert tried == 60


@pytest.mark.parametrize("taken", ["Ada", "ADA", " ada ", "Ａｄａ"])
def test_a_name_is_given_once(taken: str) -> None:
    room = Room("Blue", code="1")
    room.join("Ada", "1", HERE, 0.0)
    with pytest.raises(Problem, match="in the room already"):
        room.join(taken, "1", HERE, 0.0)


def test_a_full_room_says_so() -> None:
    room = Room("Blue", code="1")
    for number in range(MOST_STUDENTS):
        room.arrive(room.join(f"S{number}", "1", HERE, 0.0))
    with pytest.raises(Problem, match="The room is full"):
        room.join("Ada", "1", HERE, 0.0)


def test_in_a_full_room_who_left_without_a_tap_makes_place_and_who_tapped_keeps_theirs() -> None:
    room = Room("Blue", code="1")
    students = [room.join(f"S{number}", "1", HERE, 0.0) for number in range(MOST_STUDENTS)]
    for student in students:
        student.taps = 1
        connection = room.arrive(student)
    room.leave(student, connection)
    with pytest.raises(Problem, match="The room is full"):
        room.join("Ada", "1", HERE, 0.0)
    students[-1].taps = 0
    ada = room.join("Ada", "1", HERE, 0.0)
    assert list(room.students.values()) == [*students[:-1], ada]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_a_name_becomes_one_line_of_plain_text_or_a_sentence(name: str) -> None:
    try:
        tidied = tidy(name, "Your name")
    except Problem as problem:
        assert str(problem).startswith("Your name is")
    else:
        assert 0 < len(tidied) <= LONGEST_NAME
        assert tidied.isprintable() and tidied == tidy(tidied, "Your name")


def test_markup_in_a_name_is_kept_as_the_letters_it_is_made_of() -> None:
    assert tidy("<b>Ada</b>", "Your name") == "<b>Ada</b>"


def test_nothing_starts_before_something_is_ready() -> None:
    room = Room("Blue")
    for do in ("start", "pause", "resume", "stop"):
        with pytest.raises(Problem, match=f"The room is open: it cannot {do} now"):
            room.move(do, 0.0)


def test_a_phone_that_came_back_is_not_gone_when_its_old_connection_ends() -> None:
    room = Room("Blue", code="1")
    ada = room.join("Ada", "1", HERE, 0.0)
    old = room.arrive(ada)
    room.arrive(room.back(ada.token))
    room.leave(ada, old)
    assert ada.here


def test_a_room_is_restored_as_it_was_left(home: Path) -> None:
    room = Room("Blue room")
    ada = room.join("Ada", room.code, HERE, 0.0)
    room.choose(Chosen(maneuver="lazy-eight"))
    ada.next_tap, ada.run, ada.taps = 5, 17, 4
    kept(room)
    again, port = keeping.restored("Blue room")
    assert (again.code, again.key, again.state, port) == (room.code, room.key, "preparing", 8642)
    back = again.back(ada.token)
    assert (back.name, back.next_tap, back.run, back.taps, back.here) == ("Ada", 5, 17, 4, False)
    assert again.join("Bo", again.code, HERE, 0.0).number == 2
    assert again.chosen == room.chosen


def test_only_this_user_reads_a_rooms_file(home: Path) -> None:
    kept(Room("Blue"))
    assert stat.S_IMODE(keeping.place("Blue").stat().st_mode) == 0o600


@pytest.mark.parametrize("written", ["", "{}", "no json", "[]", '{"name": "Blue"}'])
def test_a_damaged_file_is_a_new_room(home: Path, written: str) -> None:
    kept(Room("Blue"))
    keeping.place("Blue").write_text(written)
    room, port = keeping.restored("Blue")
    assert (room.state, port) == ("open", 0)


def test_yesterdays_room_begins_anew(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room("Blue")
    kept(room)
    tomorrow = time.time() + keeping.LASTS_S + 1.0
    monkeypatch.setattr(time, "time", lambda: tomorrow)
    again, _ = keeping.restored("Blue")
    assert again.code != room.code and again.key != room.key


def test_an_allowance_comes_back_with_time_and_never_grows_past_its_most() -> None:
    allowance = Allowance(at_once=2, per_s=0.5)
    assert [allowance.take("a", 0.0) for _ in range(3)] == [True, True, False]
    assert allowance.take("b", 0.0)
    assert allowance.wait_s("a", 0.0) == 2
    assert [allowance.take("a", 1000.0) for _ in range(3)] == [True, True, False]
