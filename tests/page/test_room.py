"""Who comes into a room and who does not, and what its file remembers."""

from __future__ import annotations

import stat
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.hand.grip import Grip
from coach.page.alone.chosen import Chosen
from coach.page.hand.hand import Hand
from coach.page.room import file
from coach.page.room.door import MOST_STUDENTS
from coach.page.room.messages import PhoneTap
from coach.page.room.room import Room
from coach.page.room.student import Taken
from coach.page.server.clocks import Exchange
from coach.page.server.limits import Allowance
from coach.page.server.names import LONGEST, tidy
from coach.problems import Problem
from tests.page.people import let_in

HERE, ELSEWHERE = "192.0.2.7", "192.0.2.1"  # addresses for documentation, RFC 5737


def kept(room: Room) -> None:
    """Its file written."""
    file.write(room.name, file.text(room, 8642, 0.0))


def guessed(room: Room, address: str, now_s: float) -> bool:
    """Whether a wrong code from there is looked at."""
    with pytest.raises(Problem) as problem:
        let_in(room, "Ada", "000000", address, now_s)
    return "not this room's code" in str(problem.value)


def test_the_code_lets_in_and_may_be_typed_with_spaces() -> None:
    room = Room("Blue", code="123456")
    assert let_in(room, " Ada ", "123 456", HERE, 0.0).name == "Ada"


def test_a_wrong_code_lets_nobody_in() -> None:
    room = Room("Blue", code="123456")
    for wrong in ("", "123457", "12345", "1234567", "١٢٣٤٥٦", "123456\0"):
        with pytest.raises(Problem, match="not this room's code"):
            let_in(room, "Ada", wrong, HERE, 0.0)
    assert not room.door.students


def test_whoever_tries_codes_soon_has_to_wait_even_with_the_right_one() -> None:
    room = Room("Blue", code="123456")
    tried = sum(guessed(room, HERE, attempt * 0.036) for attempt in range(100_000))  # an hour
    while guessed(room, HERE, 3600.0):
        tried += 1
    with pytest.raises(Problem, match=r"Too many wrong codes: wait \d seconds and try again"):
        let_in(room, "Ada", "123456", HERE, 3600.0)
    assert tried <= 5 + 3600 / 600 + 60 + 3600 / 10
    assert let_in(room, "Bo", "123456", ELSEWHERE, 3600.0)
    assert let_in(room, "Ada", "123456", HERE, 3610.0)


def test_whoever_tries_codes_from_every_other_address_keeps_no_newcomer_waiting() -> None:
    room = Room("Blue", code="123456")
    tried = 0
    others = [f"192.0.2.{number}" for number in range(2, 255)]
    for second in range(600):
        tried += sum(guessed(room, address, second) for address in others)
    assert tried <= len(others) * (5 + 1) + 60 + 600 / 10
    for typed in range(4):
        assert guessed(room, ELSEWHERE, 600.0), typed
    assert let_in(room, "Ada", "123456", ELSEWHERE, 600.0)


@pytest.mark.parametrize("taken", ["Ada", "ADA", " ada ", "Ａｄａ"])
def test_a_name_is_given_once(taken: str) -> None:
    room = Room("Blue", code="1")
    room.door.arrive(let_in(room, "Ada", "1", HERE, 0.0))
    for back in (False, True):
        with pytest.raises(Taken, match="Ada is in the room already: add a letter") as problem:
            let_in(room, taken, "1", HERE, 0.0, back=back)
        assert not problem.value.gone


def test_whoever_lost_their_token_goes_on_in_their_place_once_their_phone_is_gone() -> None:
    room = Room("Blue", code="1")
    ada = let_in(room, "Ada", "1", HERE, 0.0)
    room.door.leave(ada, room.door.arrive(ada))
    ada.run, ada.taps, ada.next_tap = 7, 3, 4
    with pytest.raises(
        Taken, match="If that was you, go on with your taps; if not, add"
    ) as problem:
        let_in(room, "ada", "1", HERE, 0.0)
    assert problem.value.gone
    with pytest.raises(Problem, match="not this room's code"):
        let_in(room, "Ada", "2", HERE, 0.0, back=True)
    assert let_in(room, "ada", "1", HERE, 0.0, back=True) is ada
    assert room.door.back(ada.token) is ada
    assert (ada.run, ada.taps, ada.next_tap) == (7, 3, 4)
    assert let_in(room, "Bo", "1", HERE, 0.0, back=True).number == 2


def test_a_full_room_says_so() -> None:
    room = Room("Blue", code="1")
    for number in range(MOST_STUDENTS):
        room.door.arrive(let_in(room, f"S{number}", "1", f"192.0.2.{number}", 0.0))
    with pytest.raises(Problem, match="The room is full"):
        let_in(room, "Ada", "1", HERE, 0.0)


def test_in_a_full_room_who_left_without_a_tap_makes_place_and_who_tapped_keeps_theirs() -> None:
    room = Room("Blue", code="1")
    students = [
        let_in(room, f"S{number}", "1", f"192.0.2.{number}", 0.0) for number in range(MOST_STUDENTS)
    ]
    for student in students:
        student.taps = 1
        connection = room.door.arrive(student)
    room.door.leave(student, connection)
    with pytest.raises(Problem, match="The room is full"):
        let_in(room, "Ada", "1", HERE, 0.0)
    students[-1].taps = 0
    ada = let_in(room, "Ada", "1", HERE, 0.0)
    assert list(room.door.students.values()) == [*students[:-1], ada]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_a_name_becomes_one_line_of_plain_text_or_a_sentence(name: str) -> None:
    try:
        tidied = tidy(name, "Your name")
    except Problem as problem:
        assert str(problem).startswith("Your name ")
    else:
        assert 0 < len(tidied) <= LONGEST
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
    ada = let_in(room, "Ada", "1", HERE, 0.0)
    old = room.door.arrive(ada)
    room.door.arrive(room.door.back(ada.token))
    room.door.leave(ada, old)
    assert ada.here


def test_a_tap_sent_again_while_it_waits_for_the_clock_is_one_tap() -> None:
    room = Room("Blue", code="1")
    ada = let_in(room, "Ada", "1", HERE, 0.0)
    for number in (0, 1, 0):
        assert room.place(ada, PhoneTap(type="tap", number=number, at_s=1.0 + number), 2.0) == []
    ada.clock.learn(Exchange(asked_s=2.0, received_s=2.0, answered_s=2.0, heard_s=2.0))
    assert [one.number for one in room.place_waiting(ada, 2.0)] == [0, 1]


def test_how_a_phone_is_held_is_restored_with_the_room(home: Path) -> None:
    room = Room("Blue")
    for name in ("Ada", "Bo"):
        let_in(room, name, room.door.code, HERE, 0.0)
    grip = Grip((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), quality_deg=1.5)
    room.door.students[1].hand = Hand("her phone", grip)
    kept(room)
    again, _ = file.restored("Blue")
    ada, bo = again.door.students.values()
    assert ada.hand is not None and bo.hand is None
    assert (ada.hand.phone, ada.hand.grip, ada.hand.taken) == ("her phone", grip, 0)


def test_whoever_goes_on_in_anothers_place_by_name_and_code_has_to_hold_their_own_phone() -> None:
    room = Room("Blue", code="1")
    ada = let_in(room, "Ada", "1", HERE, 0.0)
    ada.hand = Hand("the phone that is gone")
    assert let_in(room, "Ada", "1", HERE, 0.0, back=True).hand is None


def test_a_room_is_restored_as_it_was_left(home: Path) -> None:
    room = Room("Blue room")
    ada = let_in(room, "Ada", room.door.code, HERE, 0.0)
    room.choose(Chosen(maneuver="lazy-eight"))
    ada.next_tap, ada.run, ada.taps = 5, 17, 4
    kept(room)
    again, port = file.restored("Blue room")
    assert (again.door.code, again.key, again.state, port) == (
        room.door.code,
        room.key,
        "preparing",
        8642,
    )
    back = again.door.back(ada.token)
    assert (back.name, back.next_tap, back.run, back.taps, back.here) == ("Ada", 5, 17, 4, False)
    assert let_in(again, "Bo", again.door.code, HERE, 0.0).number == 2
    assert again.chosen == room.chosen


def test_only_this_user_reads_a_rooms_file(home: Path) -> None:
    kept(Room("Blue"))
    assert stat.S_IMODE(file.place("Blue").stat().st_mode) == 0o600


@pytest.mark.parametrize("written", ["", "{}", "no json", "[]", '{"name": "Blue"}'])
def test_a_damaged_file_is_a_new_room(home: Path, written: str) -> None:
    kept(Room("Blue"))
    file.place("Blue").write_text(written)
    room, port = file.restored("Blue")
    assert (room.state, port) == ("open", 0)


def test_yesterdays_room_begins_anew(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room("Blue")
    kept(room)
    tomorrow = time.time() + file.LASTS_S + 1.0
    monkeypatch.setattr(time, "time", lambda: tomorrow)
    again, _ = file.restored("Blue")
    assert again.door.code != room.door.code and again.key != room.key


def test_an_allowance_comes_back_with_time_and_never_grows_past_its_most() -> None:
    allowance = Allowance(at_once=2, per_s=0.5)
    assert [allowance.take("a", 0.0) for _ in range(3)] == [True, True, False]
    assert allowance.take("b", 0.0)
    assert allowance.wait_s("a", 0.0) == 2
    assert [allowance.take("a", 1000.0) for _ in range(3)] == [True, True, False]
