"""A student alone who flies with a phone: how it comes in, and what becomes of what it reads."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Mapping
from typing import Any

from starlette.websockets import WebSocket

from coach import settings
from coach.page.alone.attempts import Attempts
from coach.page.alone.flown import Flown
from coach.page.alone.messages import Anew, FromPage, Heard, Now, Phone, Watch, from_page
from coach.page.hand.grips import Grips
from coach.page.hand.messages import from_hand
from coach.page.hand.pairing import Pairing, State
from coach.page.server.accepting import accepting
from coach.page.server.browser import Browser
from coach.page.server.clocks import BrowserClock
from coach.page.server.names import matches
from coach.page.server.phones_door import Door
from coach.page.server.records import Records
from coach.page.server.replies import Message
from coach.page.server.talk import ClockAnswer
from coach.problems import Problem

TICK_S = 0.1
"""How often what the phone has read is looked at, and what the hand does told."""

_IN = "Your phone is in: it is the airplane."

WORDS: Mapping[State, str] = {
    "awaited": "No phone has joined yet.",
    "learning": "Your phone is in, and learns how it is held: it says what to do.",
    "lost": "The rehearsal goes on without your phone.",
    "joined": _IN,
    "level": _IN,
    "flying": _IN,
    "paused": _IN,
    "over": _IN,
}
"""How the phone stands, for the page."""

HOW = (
    "Phone and coach must be in the same network. Point the phone’s camera at the picture, or "
    "type the address.",
    "Press Join on it, and allow what it asks for. Its top edge is the nose and its screen is up, "
    "unless you show it how else you hold it. Strap it to a model so that it cannot fly off.",
)
"""What to do with the phone."""


class Following:
    """The phone of whoever rehearses alone, joined to what is heard and to what is kept."""

    def __init__(self, records: Records, attempts: Attempts, door: Door, key: str) -> None:
        """No phone can come in yet.

        Args:
            records: with the logbook, where it is kept how a phone is held.
            attempts: those that are flown.
            door: where phones come in.
            key: what the page is known by.
        """
        self._attempts, self._door, self._key = attempts, door, key
        self._grips = Grips(records)
        self._pairing: Pairing | None = None
        self._link = ""
        self._ticking: asyncio.Task[None] | None = None
        self._flown: Flown | None = None
        self._page: Browser[FromPage] | None = None
        self._clock = BrowserClock()
        self._told: dict[type[Message], Message] = {}

    # How a phone comes in.

    @property
    def wanted(self) -> bool:
        """Whether a phone may come in, or has."""
        return self._pairing is not None

    async def open(self, student: str) -> dict[str, Any]:
        """Let a phone come in; where one may already, the same again.

        Args:
            student: whose it is.

        Returns:
            What the page shows of that: see `coach.page.app`.

        Raises:
            Problem: this machine is in no network, or the port is taken.
        """
        entrance = await self._door.open()
        self._grips.student = student
        if self._pairing is None:
            self._pairing = Pairing(self._grips)
            self._ticking = asyncio.create_task(self._tick())
        self._link = entrance.link("hand", self._pairing.code)
        return {
            "address": entrance.link("hand"),
            "code": self._pairing.code,
            "how": list(HOW),
            "accept": accepting(entrance),
        }

    @property
    def link(self) -> str:
        """Address and code in one.

        Raises:
            Problem: no phone is to come in.
        """
        if self._pairing is None:
            raise Problem("No phone is to come in here.")
        return self._link

    async def close(self) -> None:
        """Fly without a phone; one that is in is told so."""
        if self._ticking is not None:
            self._ticking.cancel()
        if self._pairing is not None:
            self._pairing.close()
        self._pairing = self._ticking = self._flown = None

    async def phone(self, socket: WebSocket) -> None:
        """A phone's WebSocket."""
        if self._pairing is not None:
            await self._pairing.phone(socket)
            return
        async with Browser(socket, from_hand) as browser:
            await browser.first()
            browser.refuse("Press Fly with your phone at the coach first.", again=True)

    # What the page tells.

    async def watch(self, socket: WebSocket) -> None:
        """The page's WebSocket, from its first word to its last."""
        async with Browser(socket, from_page) as browser:
            first = await browser.first()
            if not isinstance(first, Watch):
                return
            if not matches(first.key, self._key):
                browser.refuse("Open the address that the coach printed: its end is the key.")
                return
            if self._page is not None:
                self._page.refuse("Another page flies with the phone now.")
            self._page, self._clock = browser, BrowserClock()
            self._told.clear()
            if not first.sounding:
                self._flown = None
                if self._pairing is not None:
                    self._pairing.move("joined")
            browser.ask_clock()
            try:
                async for message in browser:
                    if self._page is not browser:
                        break
                    if isinstance(message, ClockAnswer):
                        browser.learn(self._clock, message)
                    elif isinstance(message, Heard):
                        self._heard(message)
            finally:
                if self._page is browser:
                    self._page = None

    def _heard(self, message: Heard) -> None:
        if self._clock.relation is None:
            return
        if self._flown is None or self._flown.run != message.run:
            try:
                rehearsal, self._grips.student = self._attempts.flown(message.run)
            except Problem:  # the last word of one that is over
                return
            self._flown = Flown(message.run, rehearsal, settings.load().hand_tone_deg)
        at_s = self._clock.relation.room_s(message.at_s)
        self._flown.heard(at_s, message.position_s, message.playing)

    async def over(self, run: str) -> None:
        """That attempt ends now; what the phone has read of it is kept."""
        if self._flown is not None and self._flown.run == run:
            self._flown.over(time.perf_counter())
            await self._take()

    # What becomes of what the phone reads.

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            await self._take()
            self._tell(time.perf_counter())

    async def _take(self) -> None:
        pairing, flown = self._pairing, self._flown
        if pairing is None:
            return
        readings = pairing.readings()
        if flown is None or not readings:
            return
        relation = self._clock.relation
        doubt_s = pairing.doubt_s + (relation.uncertainty_s if relation else 0.0)
        with contextlib.suppress(Problem):  # what cannot be kept ends no run; a tap tells of it
            motion = flown.take(readings, pairing.grip, doubt_s)
            if not len(motion):
                return
            number = await self._attempts.motion(flown.run, motion)
            if number is not None and self._page is not None:
                self._page.say(Anew(number=number))

    def _tell(self, now_s: float) -> None:
        pairing, flown = self._pairing, self._flown
        assert pairing is not None
        if flown is not None:
            pairing.move(flown.stage(now_s))
            if pairing.joined:
                self._attempts.by_hand(flown.run)
        self._say(Phone(joined=pairing.joined, words=WORDS[pairing.state], trouble=pairing.trouble))
        self._say(Now() if flown is None else flown.now(now_s))

    def _say(self, message: Message) -> None:
        """Tell the page what it has not been told already."""
        if self._page is not None and self._told.get(type(message)) != message:
            self._told[type(message)] = message
            self._page.say(message)
