"""The phone of somebody who rehearses at the terminal, served apart from any page."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from coach.page.hand.grips import Grips
from coach.page.hand.pairing import Pairing
from coach.page.server import accepting, phones_door
from coach.page.server.connections import nobody_yet
from coach.page.server.guard import Guard
from coach.page.server.names import new_secret
from coach.page.server.phones_door import Door, Entrance
from coach.page.server.reach import names
from coach.page.server.records import Records
from coach.page.server.replies import STATIC, get, page, picture

OVER = "The rehearsal at the coach is over."


@dataclass(frozen=True)
class Invited:
    """A phone may come in.

    Attributes:
        pairing: what it becomes.
        entrance: where.
    """

    pairing: Pairing
    entrance: Entrance

    @property
    def link(self) -> str:
        """What the phone opens, with the code."""
        return self.entrance.link("hand", self.pairing.code)


@contextlib.contextmanager
def invited(student: str) -> Iterator[Invited]:
    """Let a phone come in as the hand of a student, as long as this lasts.

    Raises:
        Problem: this machine is in no network, or cannot be reached.
    """
    records = Records()
    try:
        pairing = Pairing(Grips(records, student))
        leave = partial(pairing.close, OVER)
        with phones_door.apart(app(pairing.phone), Door(), leave) as entrance:
            yield Invited(pairing, entrance)
    finally:
        records.close()


def app(phone: Callable[[WebSocket], Awaitable[None]]) -> Starlette:
    """What the phone is answered; nobody needs a key, for nothing is asked for by one.

    Args:
        phone: its WebSocket, from its first word to its last.
    """

    async def hand(_: Request) -> Response:
        return page("hand")

    async def accept(_: Request) -> Response:
        return picture(accepting.picture())

    @contextlib.asynccontextmanager
    async def lasting(_: Starlette) -> AsyncIterator[dict[str, Any]]:
        yield nobody_yet()

    routes = [
        get("/", hand),
        get("/hand", hand),
        get(accepting.PICTURE, accept),
        Mount("/static", StaticFiles(directory=STATIC)),
        WebSocketRoute("/ws/hand", phone),
    ]
    guard = Middleware(Guard, names=names(), key=new_secret())
    return Starlette(routes=routes, middleware=[guard], lifespan=lasting)
