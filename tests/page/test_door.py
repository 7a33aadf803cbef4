"""Who comes in by the door of a room, who waits at it, and who stays out."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.page.room import file
from coach.page.room.door import MOST_GUESTS, MOST_STUDENTS, Door
from coach.page.room.room import Room
from coach.page.room.student import Student, Taken
from coach.problems import Problem

HERE, THERE = "192.0.2.7", "192.0.2.66"  # addresses for documentation, RFC 5737
CODE = "123456"


def comes(door: Door, name: str, address: str = HERE, now_s: float = 0.0) -> Student:
    return door.join(door.knock(name, door.code, address, now_s), address)


# A token is one student's.


def test_who_comes_back_by_name_has_a_new_token_and_the_old_one_is_dead_at_once() -> None:
    door = Door(CODE)
    ada = comes(door, "Ada")
    lost = ada.token
    door.leave(ada, door.arrive(ada))
    assert door.returned("ADA", THERE) is ada
    assert ada.token != lost and door.back(ada.token) is ada
    with pytest.raises(Problem, match="Ada came in on another page, by name and code"):
        door.back(lost)


def test_a_token_stays_the_same_while_its_phone_comes_and_goes() -> None:
    door = Door(CODE)
    ada = comes(door, "Ada")
    token = ada.token
    for _ in range(3):
        door.leave(ada, door.arrive(ada))
        assert door.back(token) is ada and ada.token == token


@pytest.mark.parametrize("made_up", ["", "x", "\ud800", "0" * 64])
def test_a_token_that_was_never_given_lets_nobody_in(made_up: str) -> None:
    door = Door(CODE)
    comes(door, "Ada")
    with pytest.raises(Problem, match="does not know you any more"):
        door.back(made_up)


# New names from one address.


def test_a_class_joins_at_once_from_one_address_and_one_who_goes_on_has_to_wait() -> None:
    door = Door(CODE)
    for number in range(40):
        comes(door, f"S{number}")
    with pytest.raises(Problem, match="Many have just joined from where you are: wait 10 seconds"):
        comes(door, "Eve")
    assert comes(door, "Bo", THERE)  # elsewhere nobody waits
    assert comes(door, "Eve", now_s=10.0)
    in_a_minute = 0
    for tenth in range(600):
        try:
            comes(door, f"E{tenth}", now_s=11.0 + tenth / 10.0)
        except Problem:
            continue
        in_a_minute += 1
    assert in_a_minute <= 6


def test_who_was_in_already_is_not_kept_waiting_by_others_at_their_address() -> None:
    door = Door(CODE)
    ada = comes(door, "Ada")
    for number in range(39):
        comes(door, f"S{number}")
    door.leave(ada, door.arrive(ada))
    assert door.returned(door.knock("Ada", CODE, HERE, 0.0), HERE) is ada


def test_a_new_code_lets_a_class_in_whose_address_somebody_has_used_up() -> None:
    door = Door(CODE)
    for number in range(40):
        comes(door, f"E{number}")
    door.new_code()
    assert comes(door, "Ada")


# What the instructor does.


@pytest.mark.parametrize("alike", ["Eve", "eve", " EVE ", "Ev\u0435", "\uff25ve", "Eve\ufffd"])
def test_a_name_that_was_taken_out_stays_out_until_there_is_a_new_code(alike: str) -> None:
    door = Door(CODE)
    eve = comes(door, "Eve")
    assert door.remove(eve.number) == [eve]
    with pytest.raises(Problem, match="does not know you any more"):
        door.back(eve.token)
    with pytest.raises(Problem, match="The instructor took Eve out of the room"):
        comes(door, alike, THERE)
    door.new_code()
    with pytest.raises(Problem, match="not this room's code"):
        door.knock(alike, CODE, HERE, 0.0)
    assert comes(door, alike).name


def test_a_name_that_was_taken_out_stays_out_after_a_restart(home: Path) -> None:
    room = Room("Blue")
    room.door.remove(comes(room.door, "Eve").number)
    file.write(room.name, file.text(room, 8642, 0.0))
    again, _ = file.restored("Blue")
    with pytest.raises(Problem, match="The instructor took Eve out"):
        comes(again.door, "eve")


def test_with_a_new_code_everybody_stays_in_who_is_in() -> None:
    door = Door(CODE)
    ada = comes(door, "Ada")
    for _ in range(20):
        before = door.code
        door.new_code()
        assert door.code != before and door.code.isdigit()
        assert door.back(ada.token) is ada


def test_everybody_from_an_address_is_taken_out_and_nobody_else() -> None:
    door = Door(CODE)
    ada = comes(door, "Ada")
    eves = [comes(door, f"Eve {number}", THERE) for number in range(20)]
    guest = door.join("Bo", THERE, known_as="Bo")
    assert door.remove(eves[3].number, all_there=True) == eves
    assert list(door.students.values()) == [ada]
    assert door.out == [eve.name for eve in eves]
    assert list(door.guests.values()) == [guest]  # whose name may be somebody's who is here


def test_of_whom_it_is_not_known_where_they_came_from_one_is_taken_out() -> None:
    door = Door(CODE)
    one, other = comes(door, "Ada", ""), comes(door, "Bo", "")
    assert door.remove(one.number, all_there=True) == [one]
    assert list(door.students.values()) == [other]


# Names with runs from elsewhere.


def test_a_name_that_the_logbook_knows_waits_and_is_in_by_the_instructors_nod() -> None:
    door = Door(CODE)
    guest = door.join("\u0410da", HERE, known_as="Ada")
    assert not door.students and door.guests == {guest.number: guest}
    with pytest.raises(Problem, match="does not know you any more"):
        door.back(guest.token)
    assert door.let_in(guest.number) is guest
    assert door.students == {guest.number: guest} and not door.guests
    assert guest.name == "Ada"  # as the logbook has it
    assert door.back(guest.token) is guest


def test_who_is_refused_or_goes_waits_no_more() -> None:
    door = Door(CODE)
    refused, gone = (door.join(name, HERE, known_as=name) for name in ("Ada", "Bo"))
    assert door.send_away(refused.number) is refused
    door.leave(gone, door.arrive(gone))
    for guest in (refused, gone):
        with pytest.raises(Problem, match="does not wait to be let in any more"):
            door.let_in(guest.number)
    assert not door.students


def test_of_two_who_wait_by_one_name_one_is_let_in() -> None:
    door = Door(CODE)
    one, other = (door.join(name, HERE, known_as="Ada") for name in ("Ada", "ada"))
    door.arrive(door.let_in(other.number))
    with pytest.raises(Taken, match="Ada is in the room already"):
        door.let_in(one.number)
    assert list(door.students.values()) == [other] and not door.guests


def test_who_waits_counts_for_their_address_and_not_everybody_can_wait() -> None:
    door = Door(CODE)
    for number in range(40):
        name = door.knock(f"S{number}", CODE, HERE, 0.0)
        door.join(name, HERE, known_as=name)
    with pytest.raises(Problem, match="Many have just joined from where you are"):
        door.knock("Eve", CODE, HERE, 0.0)
    for number in range(40, MOST_GUESTS):
        door.join(f"S{number}", THERE, known_as=f"S{number}")
    with pytest.raises(Problem, match="Too many wait for the instructor"):
        door.join("Eve", THERE, known_as="Eve")
    assert door.join("Bo", THERE)  # whom nobody knows does not wait


def test_nobody_is_let_into_a_full_room() -> None:
    door = Door(CODE)
    for number in range(MOST_STUDENTS):
        door.arrive(door.join(f"S{number}", f"192.0.2.{number}"))
    guest = door.join("Ada", HERE, known_as="Ada")
    with pytest.raises(Problem, match="The room is full"):
        door.let_in(guest.number)


def test_a_guest_takes_no_number_of_somebody_who_was_in_before_a_restart(home: Path) -> None:
    room = Room("Blue")
    ada = comes(room.door, "Ada")
    file.write(room.name, file.text(room, 8642, 0.0))
    again, _ = file.restored("Blue")
    assert again.door.join("Bo", HERE, known_as="Bo").number > ada.number
