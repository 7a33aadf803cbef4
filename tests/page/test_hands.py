"""Promises of a student's phone in a room, without a browser or a server."""

from __future__ import annotations

import asyncio
from typing import Any, cast

from coach.hand.grip import EASY, Grip
from coach.page.hand.messages import Hold
from coach.page.room.hands import Hands
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.server.talk import Note
from coach.problems import Problem
from tests.page.phones import Remembered


class Damaged(Remembered):
    """One that cannot be read."""

    def grip(self, _: str, phone: str) -> Grip | None:
        raise Problem("The logbook is damaged.")


class Told:
    """What a phone is told."""

    def __init__(self) -> None:
        self.messages: list[Any] = []

    def say(self, message: Any) -> None:
        self.messages.append(message)


def test_a_phone_is_a_hand_though_how_it_is_held_can_neither_be_read_nor_kept() -> None:
    records, phone = Damaged(), Told()
    records.full = True
    room = Room("Blue")
    ada = room.door.join("Ada", "there")
    hands = Hands(room, Runs(room, records), records)
    hold = Hold(type="hold", do="easy", phone="hers")
    asyncio.run(hands.told(cast(Any, phone), ada, hold, 0.0))
    assert ada.hand is not None and ada.hand.grip == EASY
    assert [one.text for one in phone.messages if isinstance(one, Note)] == ["The disk is full."]


def test_a_phone_that_comes_back_while_it_is_shown_how_it_is_held_has_shown_no_pose_by_that() -> (
    None
):
    room, phone = Room("Blue"), Told()
    ada, records = room.door.join("Ada", "there"), Remembered()
    hands = Hands(room, Runs(room, records), records)
    for number, do in enumerate(("come", "learn", "come")):
        if number == 2:
            hands.arrive(ada, float(number))
        hold = Hold(type="hold", do=do, phone="hers")  # type: ignore[arg-type]
        asyncio.run(hands.told(cast(Any, phone), ada, hold, float(number)))
    assert ada.hand is not None and ada.hand.poses is not None
    assert ada.hand.poses.pose == "level" and ada.hand.poses.refused == ""
