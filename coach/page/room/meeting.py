"""A room with everybody's browsers connected, its sound prepared and its runs kept."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator

from starlette.websockets import WebSocket

from coach.logbook.run import Ending
from coach.page.alone.chosen import Chosen
from coach.page.alone.rehearsals import Rehearsals
from coach.page.room import file, telling
from coach.page.room.hands import Hands
from coach.page.room.messages import (
    Choose,
    Control,
    FromInstructor,
    Lead,
    Sounding,
    from_instructor,
)
from coach.page.room.news import ToBrowser
from coach.page.room.phones import Phones
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.room.work import Work
from coach.page.server.browser import Browser
from coach.page.server.clocks import BrowserClock
from coach.page.server.names import matches
from coach.page.server.records import Records
from coach.page.server.talk import ClockAnswer, Note
from coach.problems import Problem
from coach.words import listed

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
        phones: the students'.
    """

    def __init__(self, room: Room, rehearsals: Rehearsals, records: Records, port: int) -> None:
        """Nobody is connected yet; see `going_on`."""
        self.room, self.port = room, port
        self.runs = Runs(room, records, self._keep)
        self._rehearsals, self._records = rehearsals, records
        self._work = Work()
        hands = Hands(room, self.runs, records)
        self.phones = Phones(room, self.runs, hands, self._work, self._tell_lead)
        self._lead: Browser[FromInstructor] | None = None
        self._led_s = time.perf_counter()
        self._reached_s = 0.0
        self._unkept = ""

    @contextlib.asynccontextmanager
    async def going_on(self) -> AsyncIterator[None]:
        """While this lasts the room is kept and told to everybody."""
        if self.room.chosen is not None:
            self._work.soon(self._prepare(self.room.chosen))
        ticking = asyncio.create_task(self._tick())
        try:
            yield
        finally:
            ticking.cancel()
            await self._work.close()
            await self._keep()

    async def lead(self, socket: WebSocket) -> None:
        """An instructor's page, from its first word to its last."""
        async with Browser(socket, from_instructor) as browser:
            first = await browser.first()
            if not isinstance(first, Lead):
                return
            if not matches(first.key, self.room.key):
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
            with contextlib.suppress(Problem):  # which whoever flies or comes in is told
                if unkept := await self._records.unkept():
                    browser.say(Note(text=unkept))
            try:
                async for message in browser:
                    if self._lead is not browser:
                        break
                    try:
                        await self._work.surely(self._led(browser, message))
                    except Problem as problem:
                        browser.say(Note(text=str(problem)))
            finally:
                if self._lead is browser:
                    self._lead, self._led_s = None, time.perf_counter()

    # What the instructor tells.

    async def _led(self, browser: Browser[FromInstructor], message: FromInstructor) -> None:
        if isinstance(message, ClockAnswer):
            browser.learn(self.room.leader, message)
        elif isinstance(message, Sounding):
            if self.room.heard(message):
                await self._end("finished", message.position_s)
        elif isinstance(message, Choose):
            self.room.choose(message.chosen)
            self._tell_all()
            self._work.soon(self._prepare(message.chosen))
        elif isinstance(message, Control):
            await self._controlled(message)

    async def _controlled(self, control: Control) -> None:
        if control.do in ("show", "hide"):
            self.room.names_shown = control.do == "show"
        elif control.do == "code":
            self.room.door.new_code()
        elif control.do in ("remove", "remove_all_there"):
            there = control.do == "remove_all_there"
            await self.phones.take_out(control.student, all_there=there)
        elif control.do == "let_in":
            self.phones.let_in(control.student)
        elif control.do == "let_all_in":
            for number in list(self.room.door.guests):
                self.phones.let_in(number)
        elif control.do == "refuse":
            self.phones.refuse(control.student)
        else:
            position_s = self.room.position_s(time.perf_counter())
            self.room.move(control.do, time.perf_counter())
            if control.do == "stop":
                await self._end("stopped", position_s)
                return
            await self._keep()
        self._tell_all()

    # What is done about it.

    async def _prepare(self, chosen: Chosen) -> None:
        room = self.room
        try:
            ready = await asyncio.to_thread(
                self._rehearsals.prepare, chosen, lambda: room.chosen is chosen
            )
            if ready is not None:  # a class begins with all of it
                await asyncio.wrap_future(ready.rest)
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

    async def _end(self, ending: Ending, position_s: float) -> None:
        """The run is over: keep it, and give everybody their debrief."""
        await self.phones.last()
        try:
            await self.runs.end(ending, position_s)
        finally:
            self._tell_all()
            self._work.soon(self.phones.judge(list(self.room.door.students.values())))

    def _tell_all(self) -> None:
        self.phones.changed = True
        self.phones.say(telling.state(self.room, leading=False))
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
            await self._look(now_s)
            if now_s - self._reached_s > REACHED_EVERY_S:
                self._reached_s = now_s
                if running:
                    with contextlib.suppress(Problem):
                        await self.runs.reached(self.room.position_s(now_s))
                    await self._keep()
                if ended := await self.runs.end_again():
                    names = listed([student.name for student in ended])
                    self._tell_lead(Note(text=f"What {names} flew is ended and judged now."))
                    await self.phones.judge(ended)
            if self.phones.changed:
                self.phones.changed = False
                self._tell_lead(telling.roster(self.room))
                await self._keep()

    async def _look(self, now_s: float) -> None:
        """What hands do; why that cannot be kept is told once, for it is tried again and again."""
        try:
            await self.phones.look(now_s)
            self._unkept = ""
        except Problem as problem:
            if str(problem) != self._unkept:
                self._unkept = str(problem)
                self._tell_lead(Note(text=self._unkept))

    async def _keep(self) -> None:
        # A room whose file cannot be written goes on; only a server's restart would show it.
        text = file.text(self.room, self.port, time.perf_counter())
        with contextlib.suppress(Problem):
            await self._records.do(lambda: file.write(self.room.name, text))
