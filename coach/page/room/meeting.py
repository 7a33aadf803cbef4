"""A room with everybody's browsers connected, its sound prepared and its runs kept."""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import time
from collections.abc import AsyncIterator, Coroutine, Sequence
from typing import Any

from starlette.websockets import WebSocket

from coach.logbook.run import Ending
from coach.page.alone.chosen import Chosen
from coach.page.alone.rehearsals import Rehearsals
from coach.page.alone.study import told
from coach.page.room import file, telling
from coach.page.room.browser import Browser
from coach.page.room.clocks import BrowserClock
from coach.page.room.messages import (
    Choose,
    ClockAnswer,
    Control,
    FromInstructor,
    FromPhone,
    Join,
    Lead,
    Note,
    Own,
    PhoneTap,
    Sounding,
    Tapped,
    ToBrowser,
    from_instructor,
    from_phone,
)
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.room.student import Student, Taken
from coach.page.server.records import Records
from coach.problems import Problem

TICK_S = 0.5
"""How often the roster is told and the room's file written, where something changed."""

REACHED_EVERY_S = 5.0
ALONE_S = 15.0
"""A run whose instructor's page was away for so long is paused: nobody knows whether it sounds."""


class Meeting:
    """A room and all who are connected to it.

    Attributes:
        room: what it is about.
        port: where it is served, for its file.
        runs: its runs in the logbook.
    """

    def __init__(self, room: Room, rehearsals: Rehearsals, records: Records, port: int) -> None:
        """Nobody is connected yet; see `going_on`."""
        self.room, self.port = room, port
        self.runs = Runs(room, records)
        self._rehearsals, self._records = rehearsals, records
        self._phones: dict[str, Browser[FromPhone]] = {}
        self._lead: Browser[FromInstructor] | None = None
        self._led_s = time.perf_counter()
        self._changed = True
        self._reached_s = 0.0
        self._tasks: set[asyncio.Task[None]] = set()
        self._answering: set[asyncio.Task[None]] = set()

    @contextlib.asynccontextmanager
    async def going_on(self) -> AsyncIterator[None]:
        """While this lasts the room is kept and told to everybody."""
        if self.room.chosen is not None:
            self._soon(self._prepare(self.room.chosen))
        ticking = asyncio.create_task(self._tick())
        try:
            yield
        finally:
            ticking.cancel()
            for task in self._tasks:
                task.cancel()
            if self._answering:
                await asyncio.wait(self._answering)
            await self._keep()

    async def phone(self, socket: WebSocket) -> None:
        """A phone, from its first word to its last."""
        async with Browser(socket, from_phone) as browser:
            first = await browser.first()
            if not isinstance(first, Join):
                return
            try:
                student = self._who(first, browser.address)
            except Problem as no:
                browser.refuse(str(no), again=True, gone=isinstance(no, Taken) and no.gone)
                return
            if other := self._phones.get(student.token):
                other.refuse(f"{student.name} came in on another page, which goes on.")
            connection = self.room.arrive(student)
            self._phones[student.token] = browser
            self._changed = True
            browser.say(telling.welcome(self.room, student))
            browser.say(telling.state(self.room, leading=False))
            if self.room.state == "finished":
                self._soon(self._judge([student]))
            browser.ask_clock()
            try:
                async for message in browser:
                    if self._phones.get(student.token) is not browser:
                        break
                    await self._surely(self._told(browser, student, message))
            except Problem as problem:
                # A tap could not be kept. The phone comes back with all that were not acknowledged.
                browser.say(Note(text=str(problem)))
            finally:
                self.room.leave(student, connection)
                if self._phones.get(student.token) is browser:
                    del self._phones[student.token]
                self._changed = True

    async def lead(self, socket: WebSocket) -> None:
        """An instructor's page, from its first word to its last."""
        async with Browser(socket, from_instructor) as browser:
            first = await browser.first()
            if not isinstance(first, Lead):
                return
            if not hmac.compare_digest(first.key.encode(), self.room.key.encode()):
                browser.refuse("This address does not lead the room: use the one the coach opened.")
                return
            if self._lead is not None:
                self._lead.refuse("Another page leads this room now.")
            self._lead = browser
            self.room.leader = BrowserClock()
            if not first.sounding:
                self.room.lost(time.perf_counter())
            self._tell_all()
            browser.ask_clock()
            try:
                async for message in browser:
                    if self._lead is not browser:
                        break
                    try:
                        await self._surely(self._led(browser, message))
                    except Problem as problem:
                        browser.say(Note(text=str(problem)))
            finally:
                if self._lead is browser:
                    self._lead, self._led_s = None, time.perf_counter()

    # What browsers tell.

    def _who(self, join: Join, address: str) -> Student:
        if join.token:
            return self.room.back(join.token)
        now_s = time.perf_counter()
        student = self.room.join(join.name, join.code, address, now_s, back=join.back)
        if join.back:
            self._tell_lead(Note(text=f"{student.name} is back on another page, by name and code."))
        return student

    async def _told(self, phone: Browser[FromPhone], student: Student, message: FromPhone) -> None:
        now_s = time.perf_counter()
        if isinstance(message, ClockAnswer):
            self._changed |= phone.learn(student.clock, message)
            await self._write(phone, student, self.room.place_waiting(student, now_s))
        elif isinstance(message, PhoneTap):
            if message.number < student.next_tap:
                phone.say(Tapped(number=message.number, time_s=None))
            else:
                await self._write(phone, student, self.room.place(student, message, now_s))

    async def _led(self, browser: Browser[FromInstructor], message: FromInstructor) -> None:
        if isinstance(message, ClockAnswer):
            browser.learn(self.room.leader, message)
        elif isinstance(message, Sounding):
            if self.room.heard(message):
                await self._end("finished", message.position_s)
        elif isinstance(message, Choose):
            self.room.choose(message.chosen)
            self._tell_all()
            self._soon(self._prepare(message.chosen))
        elif isinstance(message, Control):
            await self._controlled(message)

    async def _controlled(self, control: Control) -> None:
        if control.do in ("show", "hide"):
            self.room.names_shown = control.do == "show"
        elif control.do == "remove":
            student = self.room.remove(control.student)
            if browser := self._phones.pop(student.token, None):
                browser.refuse("The instructor took you out of the room.")
            await self.runs.leave(student)
        else:
            position_s = self.room.position_s(time.perf_counter())
            self.room.move(control.do, time.perf_counter())
            if control.do == "stop":
                await self._end("stopped", position_s)
                return
        self._tell_all()

    # What is done about it.

    async def _prepare(self, chosen: Chosen) -> None:
        room = self.room
        try:
            ready = await asyncio.to_thread(
                self._rehearsals.prepare, chosen, lambda: room.chosen is chosen
            )
        except Problem as problem:
            if room.chosen is chosen:
                room.failed()
                self._tell_lead(Note(text=str(problem)))
                self._tell_all()
            return
        if ready is not None and room.chosen is chosen:
            room.prepared(ready)
            self._tell_lead(Note(text=ready.rehearsal.note or ready.why))
            self._tell_all()

    async def _write(
        self, phone: Browser[FromPhone], student: Student, tapped: Sequence[Tapped]
    ) -> None:
        """Keep taps, and acknowledge them when they are on disk."""
        times_s = [one.time_s for one in tapped if one.time_s is not None]
        if times_s:
            await self.runs.taps(student, times_s)
        for one in tapped:
            student.next_tap = max(student.next_tap, one.number + 1)
            phone.say(one)
            self._changed = True
        if times_s and self.room.state == "finished":
            await self._judge([student])

    async def _end(self, ending: Ending, position_s: float) -> None:
        """The run is over: keep it, and give everybody their debrief."""
        try:
            await self.runs.end(ending, position_s)
        finally:
            self._tell_all()
        self._soon(self._judge(list(self.room.students.values())))

    async def _judge(self, students: list[Student]) -> None:
        for student in students:
            if browser := self._phones.get(student.token):
                with contextlib.suppress(Problem):
                    judged = await self.runs.own(student)
                    if judged is not None:
                        browser.say(Own(debrief=told(judged), picture="/own/picture.svg"))

    def _tell_all(self) -> None:
        self._changed = True
        for browser in self._phones.values():
            browser.say(telling.state(self.room, leading=False))
        self._tell_lead(telling.state(self.room, leading=True))

    def _tell_lead(self, message: ToBrowser) -> None:
        if self._lead is not None:
            self._lead.say(message)

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            now_s = time.perf_counter()
            running = self.room.state == "running"
            if running and self._lead is None and now_s - self._led_s > ALONE_S:
                self.room.lost(now_s)
                self._tell_all()
            if running and now_s - self._reached_s > REACHED_EVERY_S:
                self._reached_s = now_s
                with contextlib.suppress(Problem):
                    await self.runs.reached(self.room.position_s(now_s))
                await self._keep()
            if self._changed:
                self._changed = False
                self._tell_lead(telling.roster(self.room))
                await self._keep()

    async def _keep(self) -> None:
        # A room whose file cannot be written goes on; only a server's restart would show it.
        text = file.text(self.room, self.port, time.perf_counter())
        with contextlib.suppress(Problem):
            await self._records.do(lambda: file.write(self.room.name, text))

    async def _surely(self, work: Coroutine[Any, Any, None]) -> None:
        """Done to its end, even where the server closes meanwhile, so no tap is written twice."""
        task = asyncio.create_task(work)
        self._answering.add(task)
        task.add_done_callback(self._answering.discard)
        await asyncio.shield(task)

    def _soon(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
