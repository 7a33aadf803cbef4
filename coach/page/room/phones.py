"""The phones of a room: who they are, what they tell, and what they are told."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable, Sequence

from starlette.websockets import WebSocket

from coach.page.alone.study import told
from coach.page.room import telling
from coach.page.room.hands import Hands
from coach.page.room.messages import FromPhone, Join, PhoneTap, from_phone
from coach.page.room.news import Own, Tapped, ToBrowser
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.room.student import Student, Taken
from coach.page.room.work import Work
from coach.page.server.browser import Browser
from coach.page.server.talk import ClockAnswer, Note, Settled
from coach.problems import Problem


class Phones:
    """Everybody's phone that is connected.

    Attributes:
        changed: whether the roster, or what a room's file holds, has changed since this was put
            back.
    """

    def __init__(
        self,
        room: Room,
        runs: Runs,
        hands: Hands,
        work: Work,
        tell_lead: Callable[[ToBrowser], None],
    ) -> None:
        """None is connected yet.

        Args:
            room: whose.
            runs: its runs in the logbook.
            hands: those of them that are held as the airplane.
            work: what is done beside the messages.
            tell_lead: tells the instructor.
        """
        self.changed = True
        self._room, self._runs, self._hands = room, runs, hands
        self._work, self._tell_lead = work, tell_lead
        self._connected: dict[int, Browser[FromPhone]] = {}

    async def phone(self, socket: WebSocket) -> None:
        """A phone, from its first word to its last."""
        async with Browser(socket, from_phone) as browser:
            first = await browser.first()
            if not isinstance(first, Join):
                return
            try:
                student = await self._who(first, browser.address)
            except Problem as no:
                _refuse(browser, no)
                return
            connection = self._connect(student, browser)
            try:
                async for message in browser:
                    if self._connected.get(student.number) is not browser:
                        break
                    await self._work.surely(self._told(browser, student, message))
            except Problem as problem:
                # A tap could not be kept. The phone comes back with all that were not acknowledged.
                browser.say(Note(text=str(problem)))
            finally:
                self._room.door.leave(student, connection)
                if self._connected.get(student.number) is browser:
                    del self._connected[student.number]
                self.changed = True

    def say(self, message: ToBrowser) -> None:
        """Tell everybody who is in."""
        for number in self._room.door.students:
            if browser := self._connected.get(number):
                browser.say(message)

    async def judge(self, students: Iterable[Student]) -> None:
        """Give these their debriefs, where they are here and have one."""
        for student in students:
            if browser := self._connected.get(student.number):
                with contextlib.suppress(Problem):
                    judged = await self._runs.own(student)
                    if judged is not None:
                        browser.say(Own(debrief=told(judged), picture="/own/picture.svg"))

    async def look(self, now_s: float) -> None:
        """See to what hands do that nobody tells of, and keep what they did.

        Raises:
            Problem: it could not be kept; it is tried again.
        """
        await self._hands.look(self._connected, now_s)
        self.changed |= self._hands.changed
        self._hands.changed = False
        late = await self._hands.keep(self._connected, now_s)
        if self._room.state == "finished":
            await self.judge(late)

    async def last(self) -> None:
        """Wait for what hands did just now."""
        await self._hands.last(self._connected)

    # What the instructor does.

    def let_in(self, number: int) -> None:
        """Somebody who waited is in.

        Raises:
            Problem: they do not wait any more.
        """
        try:
            student = self._room.door.let_in(number)
        except Problem as no:
            if browser := self._connected.pop(number, None):
                _refuse(browser, no)
            else:
                raise
        else:
            self._is_in(student, self._connected[number])

    def refuse(self, number: int) -> None:
        """Somebody who waited has to give another name.

        Raises:
            Problem: they do not wait any more.
        """
        guest = self._room.door.send_away(number)
        self._gone(guest, f"You are not the {guest.name} whom the instructor knows: add a letter.")

    async def take_out(self, number: int, *, all_there: bool) -> None:
        """A student, or everybody who came from the same address, is in no more.

        Who waits there to be let in has to come again; their names stay out for nobody, for they
        may be those of others who are here.

        Raises:
            Problem: nobody has that number.
        """
        door = self._room.door
        gone = door.remove(number, all_there=all_there)
        for guest in [one for one in door.guests.values() if one.address == gone[0].address]:
            if all_there:
                door.send_away(guest.number)
                self._gone(guest, "The instructor lets nobody in from there just now.")
        for student in gone:
            self._gone(student, "The instructor took you out of the room.")
            await self._runs.leave(student)

    def _gone(self, student: Student, why: str) -> None:
        if browser := self._connected.pop(student.number, None):
            browser.refuse(why)
        self.changed = True

    # Who a phone is.

    async def _who(self, join: Join, address: str) -> Student:
        door = self._room.door
        if join.token:
            return door.back(join.token)
        name = door.knock(join.name, join.code, address, time.perf_counter())
        if join.back and (student := door.returned(name, address)):
            self._tell_lead(Note(text=f"{student.name} is back on another page, by name and code."))
            return student
        try:
            known_as = await self._runs.known_as(name)
        except Problem as problem:  # whose name it is cannot be told
            self._tell_lead(Note(text=str(problem)))
            raise Problem(
                "Nobody can come in while the coach cannot use its logbook: tell the instructor."
            ) from None
        return door.join(name, address, known_as)

    def _connect(self, student: Student, browser: Browser[FromPhone]) -> int:
        """Whoever has the token is the student: a page that was before is told, and over."""
        if other := self._connected.get(student.number):
            other.refuse(f"{student.name} came in on another page, which goes on.")
            if other.address != browser.address:
                self._tell_lead(Note(text=f"{student.name} is on another phone now."))
        connection = self._room.door.arrive(student)
        self._connected[student.number] = browser
        self.changed = True
        if student.number in self._room.door.students:
            self._is_in(student, browser)
        else:
            browser.say(telling.waiting(student))
        browser.ask_clock()
        return connection

    def _is_in(self, student: Student, browser: Browser[FromPhone]) -> None:
        """Somebody is in from here on: new, back, or let in."""
        browser.let_in()
        self.changed = True
        browser.say(telling.welcome(self._room, student))
        browser.say(telling.state(self._room, leading=False))
        known_ms = student.clock.uncertainty_ms
        if known_ms is not None:  # while they waited
            browser.say(Settled(uncertainty_ms=known_ms))
        self._hands.arrive(student, time.perf_counter())
        if self._room.state == "finished":
            self._work.soon(self.judge([student]))

    # What it tells.

    async def _told(self, phone: Browser[FromPhone], student: Student, message: FromPhone) -> None:
        now_s = time.perf_counter()
        if isinstance(message, ClockAnswer):
            self.changed |= phone.learn(student.clock, message)
            await self._write(phone, student, self._room.place_waiting(student, now_s))
            self._hands.placed(student, now_s)
        elif isinstance(message, Join) or student.number not in self._room.door.students:
            return
        elif isinstance(message, PhoneTap):
            if message.number < student.next_tap:
                phone.say(Tapped(number=message.number, time_s=None))
            else:
                await self._write(phone, student, self._room.place(student, message, now_s))
        else:
            await self._hands.told(phone, student, message, now_s)

    async def _write(
        self, phone: Browser[FromPhone], student: Student, tapped: Sequence[Tapped]
    ) -> None:
        """Keep taps, and acknowledge them when they are on disk."""
        times_s = [one.time_s for one in tapped if one.time_s is not None]
        if times_s:
            await self._runs.taps(student, times_s)
        for one in tapped:
            student.next_tap = max(student.next_tap, one.number + 1)
            phone.say(one)
            self.changed = True
        if times_s and self._room.state == "finished":
            await self.judge([student])


def _refuse(browser: Browser[FromPhone], no: Problem) -> None:
    browser.refuse(str(no), again=True, gone=isinstance(no, Taken) and no.gone)
