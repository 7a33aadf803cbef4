"""One WebSocket to one browser: checked messages in, a queue out, and its clock asked for."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator
from typing import Generic, TypeVar

from pydantic import TypeAdapter, ValidationError
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from coach.page.server.clocks import SETTLED_AFTER, BrowserClock, Exchange
from coach.page.server.connections import is_in
from coach.page.server.limits import MESSAGE_BYTES, Allowance
from coach.page.server.replies import Message
from coach.page.server.talk import Ask, ClockAnswer, Note, Refused, Settled

M = TypeVar("M")

FIRST_WITHIN_S = 10.0
"""Who has said nothing for so long does not want to come in."""

SILENT_S = 15.0
"""A browser that answers no question for so long is gone: phones fall asleep without a word."""

ASK_EVERY_S = 2.0
ASK_QUICKLY_S = 0.1

AT_ONCE, PER_S = 60, 25.0
"""Messages: a finger taps ten times a second, and a phone that was away sends all it kept."""

_QUEUED = 200
_VIOLATION, _TOO_LARGE, _AGAIN_LATER = 1008, 1009, 1013


class Browser(Generic[M]):
    """A browser that is connected.

    Use as ``async with Browser(...) as one: async for message in one: ...``; leaving it closes it.
    """

    def __init__(self, socket: WebSocket, adapter: TypeAdapter[M]) -> None:
        """Nothing is sent or read yet."""
        self._socket = socket
        self._adapter = adapter
        self._queue: asyncio.Queue[Message | None] = asyncio.Queue(_QUEUED)
        self._allowance = Allowance(AT_ONCE, PER_S)
        self._asked: dict[int, float] = {}
        self._number = 0
        self._answered_s = 0.0
        self._told_ms: float | None = None
        self._tasks: list[asyncio.Task[None]] = []

    @property
    def address(self) -> str:
        """Where the browser is."""
        return self._socket.client.host if self._socket.client else ""

    async def __aenter__(self) -> Browser[M]:
        await self._socket.accept()
        self._tasks.append(asyncio.create_task(self._send()))
        return self

    async def __aexit__(self, *_: object) -> None:
        for task in self._tasks[1:]:
            task.cancel()
        self._put(None)
        with contextlib.suppress(asyncio.TimeoutError):
            await asyncio.wait_for(self._tasks[0], 1.0)

    def let_in(self) -> None:
        """Whoever it is may come in: from there, nobody is a stranger."""
        is_in(self._socket.scope)

    def say(self, message: Message) -> None:
        """Send a message when its turn comes; a browser that takes none any more is given up."""
        self._put(message)

    def refuse(self, why: str, *, again: bool = False, gone: bool = False) -> None:
        """Say why, and close."""
        self._put(Refused(why=why, again=again, gone=gone))
        self._put(None)

    async def first(self) -> M | None:
        """The first message; None where there is none in time, or none that can be read."""
        with contextlib.suppress(asyncio.TimeoutError):
            return await asyncio.wait_for(self._read(), FIRST_WITHIN_S)
        return None

    def ask_clock(self) -> None:
        """Begin to ask for the browser's clock, a few times quickly and then steadily."""
        self._answered_s = time.perf_counter()
        self._tasks.append(asyncio.create_task(self._ask()))

    def learn(self, clock: BrowserClock, answer: ClockAnswer) -> bool:
        """Learn of the browser's clock by an answer that has just come.

        Returns:
            Whether it is known better or worse than before; the browser is told then.
        """
        now_s = time.perf_counter()
        asked_s = self._asked.pop(answer.number, None)
        if asked_s is None:
            return False
        jumped = clock.learn(Exchange(asked_s, answer.received_s, answer.answered_s, now_s))
        if clock.heard_s == now_s:  # else the answer cannot be, and is none
            self._answered_s = now_s
        if jumped:
            self.say(Note(text="This device's clock jumped, perhaps it slept; it is set again."))
            self._told_ms = None
        now_ms, told_ms = clock.uncertainty_ms, self._told_ms
        if now_ms is None or (told_ms is not None and abs(now_ms - told_ms) <= 0.2 * told_ms + 0.5):
            return False
        self._told_ms = now_ms
        self.say(Settled(uncertainty_ms=now_ms))
        return True

    async def __aiter__(self) -> AsyncIterator[M]:
        while (message := await self._read()) is not None:
            yield message

    async def _read(self) -> M | None:
        try:
            event = await self._socket.receive()
        except (WebSocketDisconnect, RuntimeError):
            return None
        if event["type"] != "websocket.receive":
            return None
        text: str = event.get("text") or ""
        if len(text.encode("utf-8", "surrogatepass")) > MESSAGE_BYTES:
            await self._close(_TOO_LARGE)
            return None
        if not self._allowance.take("", time.perf_counter()):
            await self._close(_VIOLATION)
            return None
        try:
            return self._adapter.validate_json(text)
        except ValidationError:
            await self._close(_VIOLATION)
            return None

    async def _close(self, code: int) -> None:
        with contextlib.suppress(RuntimeError, WebSocketDisconnect):
            if self._socket.application_state is WebSocketState.CONNECTED:
                await self._socket.close(code)

    def _put(self, message: Message | None) -> None:
        if self._queue.full():
            self._tasks[0].cancel()
            return
        self._queue.put_nowait(message)

    async def _send(self) -> None:
        try:
            while (message := await self._queue.get()) is not None:
                if isinstance(message, Ask):
                    self._asked[message.number] = time.perf_counter()
                await self._socket.send_text(message.model_dump_json())
            await self._close(1000)
        except (WebSocketDisconnect, RuntimeError):
            pass
        except asyncio.CancelledError:
            await self._close(_AGAIN_LATER)

    async def _ask(self) -> None:
        while time.perf_counter() - self._answered_s < SILENT_S:
            self._number += 1
            self._asked.pop(self._number - 10, None)
            self._put(Ask(number=self._number))
            quick = self._number <= SETTLED_AFTER + 3
            await asyncio.sleep(ASK_QUICKLY_S if quick else ASK_EVERY_S)
        self._tasks[0].cancel()
