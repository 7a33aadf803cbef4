"""The phones of a room that are held as the airplane: what they tell, and what they are told."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

from coach.hand.readings import Readings
from coach.page.hand.grips import Grips
from coach.page.hand.hand import Hand
from coach.page.hand.messages import Held, Hold, Kept, Sensing
from coach.page.room import telling
from coach.page.room.messages import FromPhone
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.room.student import Student
from coach.page.server.browser import Browser
from coach.page.server.records import Records
from coach.page.server.talk import Note

Connected = Mapping[int, Browser[FromPhone]]
"""Who is connected, by the student's number."""

KEEP_EVERY_S = 1.0
"""How often what hands did is written: in smaller parts it would be as large again."""

LAST_S = 0.4
"""What a hand did last before a run ended comes within this, unless its phone is away."""


class Hands:
    """Everybody's phone that is held as the airplane.

    Attributes:
        changed: whether what is to be told of one in the roster has changed since this was put
            back.
    """

    def __init__(self, room: Room, runs: Runs, records: Records) -> None:
        """None is yet.

        Args:
            room: whose.
            runs: its runs in the logbook.
            records: where it is kept how a student holds a phone.
        """
        self.changed = False
        self._room, self._runs, self._records = room, runs, records
        self._kept: dict[int, int] = {}
        self._kept_s = float("-inf")

    def arrive(self, student: Student, now_s: float) -> None:
        """A student is in, new or back: a phone that was a hand goes on as one."""
        if student.hand is not None:
            self._begin(student, student.hand, now_s)

    async def told(
        self,
        browser: Browser[FromPhone],
        student: Student,
        message: Held | Hold | Sensing,
        now_s: float,
    ) -> None:
        """Do what a phone tells."""
        if isinstance(message, Hold):
            await self._hold(browser, student, message, now_s)
        elif student.hand is not None and isinstance(message, Held):
            self._fly(student, student.hand.take(message, now_s))
        elif student.hand is not None and isinstance(message, Sensing):
            student.hand.sensing(message)
        await self._news(browser, student, now_s)

    def placed(self, student: Student, now_s: float) -> None:
        """A phone's clock has been learned of again, or the loudspeaker's: place what waited."""
        if student.hand is not None:
            self._fly(student, student.hand.placed(now_s))

    async def look(self, connected: Connected, now_s: float) -> None:
        """Tell phones what has changed without a word of theirs, such as that none comes."""
        for student, browser in self._flying(connected):
            await self._news(browser, student, now_s)

    async def keep(self, connected: Connected, now_s: float) -> list[Student]:
        """Keep what hands did since a second ago, and tell their phones that they need not.

        Returns:
            Those whose runs it is a part of.

        Raises:
            Problem: it could not be kept; it is tried again.
        """
        taken = {
            student.number: student.hand.taken
            for student, _ in self._flying(connected)
            if student.hand is not None and not student.readings
        }
        if now_s - self._kept_s < KEEP_EVERY_S and taken.keys() <= self._kept.keys():
            return []
        self._kept_s = now_s
        written = await self._runs.motions()
        for number, upto in taken.items():
            browser = connected.get(number)
            if browser is not None and upto > self._kept.get(number, -1):
                self._kept[number] = upto
                browser.say(Kept(number=upto))
        return written

    async def last(self, connected: Connected) -> None:
        """Wait for what hands did just now, where any is here."""
        if self._flying(connected):
            await asyncio.sleep(LAST_S)

    def _flying(self, connected: Connected) -> list[tuple[Student, Browser[FromPhone]]]:
        students = self._room.door.students
        return [
            (students[number], browser)
            for number, browser in connected.items()
            if number in students and students[number].hand is not None
        ]

    def _begin(self, student: Student, hand: Hand, now_s: float) -> None:
        """It waits to be told by `keep` what need not come again, since that is on disk."""
        hand.arrive(now_s)
        hand.clock = student.clock
        self._kept.pop(student.number, None)

    async def _hold(
        self, browser: Browser[FromPhone], student: Student, hold: Hold, now_s: float
    ) -> None:
        """A phone becomes a hand with its first word, held as it was the last time."""
        if hold.do == "leave":
            student.hand, student.trouble = None, ""
            self.changed = True
            return
        if student.hand is None or student.hand.phone != hold.phone:
            student.hand = await Grips(self._records, student.name).hand(hold.phone)
            self._begin(student, student.hand, now_s)
            self.changed = True
        student.hand.hold(hold)

    def _fly(self, student: Student, readings: Readings | None) -> None:
        motion = self._room.flown(student, readings)
        if len(motion):
            self._runs.flown(student, motion)

    async def _news(self, browser: Browser[FromPhone], student: Student, now_s: float) -> None:
        hand = student.hand
        if hand is None:
            return
        hand.stage = self._room.stage(now_s)
        if unkept := await Grips(self._records, student.name).keep(hand):
            browser.say(Note(text=unkept))
        told = hand.news(now_s)
        if told is not None:
            browser.say(telling.holding(self._room, told))
            self.changed |= told.trouble != student.trouble
            student.trouble = told.trouble
