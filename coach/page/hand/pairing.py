"""The hand of one rehearsal alone: which phone it is, and what it reads."""

from __future__ import annotations

import asyncio
import time
from collections import deque
from collections.abc import Mapping
from typing import Literal

from starlette.websockets import WebSocket

from coach.hand.grip import EASY, Grip
from coach.hand.readings import Readings
from coach.hand.watching import TROUBLES
from coach.page.hand.grips import Grips
from coach.page.hand.hand import LEARNING, STAGES, Hand
from coach.page.hand.messages import (
    Come,
    FromHand,
    Held,
    Hold,
    Kept,
    Sensing,
    Welcome,
    from_hand,
)
from coach.page.server.browser import Browser
from coach.page.server.limits import Guesses
from coach.page.server.names import matches, new_code, new_secret
from coach.page.server.talk import ClockAnswer, Note
from coach.problems import Problem
from coach.rehearsal.steering import Stage

State = Stage | Literal["awaited", "learning", "lost"]
"""Where a hand stands; before any phone has come it is awaited."""

WORDS: Mapping[State, str] = {
    "awaited": "No phone has joined yet",
    "lost": "Lost",
    "learning": LEARNING,
    **{stage: words for stage, (words, _) in STAGES.items()},
}

TICK_S = 0.1

MOST_UNREAD = 6000
"""Batches, ten minutes of them: where nobody reads they are forgotten."""


class Pairing:
    """Which phone is the hand of a rehearsal alone, for as long as that page or command is open.

    Phones come in by `phone` on an event loop of one thread; all else may be called from another,
    and so looks at the hand that is there only once.

    Attributes:
        code: what a phone comes in by.
        doubt_s: the most that the readings' times may be off, as far as the phone's clock goes.
    """

    def __init__(self, grips: Grips) -> None:
        """No phone has come.

        Args:
            grips: the student's.
        """
        self.code = new_code()
        self.doubt_s = 0.0
        self._grips = grips
        self._stage: Stage = "joined"
        self._hand: Hand | None = None
        self._token = ""
        self._browser: Browser[FromHand] | None = None
        self._guesses = Guesses()
        self._unread: deque[Readings] = deque(maxlen=MOST_UNREAD)

    # For whoever flies the rehearsal.

    def move(self, stage: Stage) -> None:
        """The rehearsal stands elsewhere; the phone shows it."""
        self._stage = stage
        if (hand := self._hand) is not None:
            hand.stage = stage

    def readings(self) -> list[Readings]:
        """What was read since this was asked last, times on `time.perf_counter`, increasing."""
        found = []
        while self._unread:
            found.append(self._unread.popleft())
        return found

    @property
    def joined(self) -> bool:
        """Whether a phone has ever come: it flies, even where it is lost just now."""
        return self._hand is not None

    @property
    def grip(self) -> Grip:
        """How the phone is held; another one may have come since this was asked last."""
        hand = self._hand
        return EASY if hand is None else hand.grip

    @property
    def state(self) -> State:
        """Where the hand stands."""
        hand = self._hand
        if hand is None:
            return "awaited"
        if self._browser is None:
            return "lost"
        return "learning" if hand.poses is not None else hand.stage

    @property
    def words(self) -> str:
        """That, for people."""
        return WORDS[self.state]

    @property
    def trouble(self) -> str:
        """What is wrong with it, a sentence; "" where all is well."""
        hand = self._hand
        if hand is None:
            return ""
        return TROUBLES["gone"].sentence if self._browser is None else hand.trouble

    def close(self, why: str = "The coach flies without a phone now.") -> None:
        """No hand is wanted any more; a phone that is in is told so. On the phones' event loop."""
        if self._browser is not None:
            self._browser.refuse(why)

    # Phones.

    async def phone(self, socket: WebSocket) -> None:
        """A phone, from its first word to its last."""
        async with Browser(socket, from_hand) as browser:
            first = await browser.first()
            if not isinstance(first, Come):
                return
            try:
                hand = await self._who(first, browser.address)
            except Problem as no:
                browser.refuse(str(no), again=True)
                return
            self._is_in(browser, hand)
            telling = asyncio.create_task(self._tell(browser, hand))
            try:
                async for message in browser:
                    if self._browser is not browser:
                        break
                    await self._told(browser, hand, message)
            finally:
                telling.cancel()
                if self._browser is browser:
                    self._browser = None

    async def _who(self, come: Come, address: str) -> Hand:
        """The hand that a phone is.

        Raises:
            Problem: it may not come in.
        """
        if self._hand is not None and come.token and matches(come.token, self._token):
            return self._hand
        now_s = time.perf_counter()
        if wait_s := self._guesses.wait_s(address, now_s):
            raise Problem(f"Too many wrong codes: wait {wait_s} seconds and try again.")
        if not matches("".join(come.code.split()), self.code):
            if not come.code:
                raise Problem("The coach does not know this phone any more: enter its code.")
            self._guesses.wrong(address, now_s)
            raise Problem("That is not this rehearsal's code; it is on the coach's screen.")
        return await self._grips.hand(come.phone)

    def _is_in(self, browser: Browser[FromHand], hand: Hand) -> None:
        """Whoever has the token is the hand: a page that was before is told, and over."""
        if self._browser is not None:
            self._browser.refuse(TROUBLES["taken over"].sentence, again=True)
        if hand is not self._hand:  # what another phone read so far stays
            self._token = new_secret()
        self._browser, self._hand = browser, hand
        hand.stage = self._stage
        hand.arrive(time.perf_counter())
        browser.let_in()
        browser.say(Welcome(token=self._token))
        browser.say(Kept(number=hand.taken))
        browser.ask_clock()

    async def _told(self, browser: Browser[FromHand], hand: Hand, message: FromHand) -> None:
        now_s = time.perf_counter()
        taken = hand.taken
        if isinstance(message, ClockAnswer):
            browser.learn(hand.clock, message)
            self._read(hand, hand.placed(now_s))
        elif isinstance(message, Held):
            self._read(hand, hand.take(message, now_s))
        elif isinstance(message, Sensing):
            hand.sensing(message)
        elif isinstance(message, Hold):
            hand.hold(message)
            if message.do == "leave":
                self._hand = None
                browser.refuse("This phone is no hand any more.", again=True)
        if isinstance(message, Held) or hand.taken != taken:
            browser.say(Kept(number=hand.taken))
        if unkept := await self._grips.keep(hand):
            browser.say(Note(text=unkept))

    async def _tell(self, browser: Browser[FromHand], hand: Hand) -> None:
        """Tell the phone what to show whenever that changes, whoever changes it."""
        while True:
            if (news := hand.news(time.perf_counter())) is not None:
                browser.say(news)
            await asyncio.sleep(TICK_S)

    def _read(self, hand: Hand, readings: Readings | None) -> None:
        if readings is not None:
            self.doubt_s = hand.doubt_s
            self._unread.append(readings)
