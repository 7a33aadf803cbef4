"""The way in for phones: HTTPS at every address of this machine, opened when somebody asks for it.

A student's own page stays at 127.0.0.1, which browsers trust as it is. A phone comes to another
address, and is answered by TLS with this machine's own certificate.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.types import ASGIApp

from coach.page.server.connections import many_files
from coach.page.server.guard import HAND
from coach.page.server.reach import HERE, addresses, at, names
from coach.page.server.serving import Server, listening

if TYPE_CHECKING:
    from coach.page.server.secured import Secured

PORT = 8643
"""Taken where it is free, so that the address stays the same from day to day."""

_ENDS_WITHIN_S = 5.0
"""A thread of a server that has not ended by then ends with the process."""


@dataclass(frozen=True)
class Entrance:
    """Where phones come in.

    Attributes:
        reach: host and port, the likeliest that a phone gets to.
        others: this machine's other addresses.
        port: of all of them.
        fingerprint: of the certificate, SHA-256, as browsers show it.
        kept: whether the certificate is the same the next time.
    """

    reach: str
    others: tuple[str, ...]
    port: int
    fingerprint: str
    kept: bool

    @property
    def address(self) -> str:
        """What people type."""
        return f"https://{self.reach}"

    def link(self, page: str, code: str = "") -> str:
        """The address of a page, with a joining code at its end."""
        return f"{self.address}/{page}" + (f"#{code}" if code else "")


class Door:
    """It is shut until it is opened, and then open as long as the server lasts."""

    def __init__(
        self,
        address: str = "",
        *,
        usual: int = PORT,
        only: tuple[str, ...] | None = HAND,
    ) -> None:
        """Nothing listens yet.

        Args:
            address: which of this machine's addresses phones are told; "" for the likeliest.
            usual: the port, or any free one where that is taken.
            only: the paths that are answered there; None for all.
        """
        self._address, self._usual, self._only = address, usual, only
        self._listener: socket.socket | None = None
        self._server: Server | None = None
        self._secured: Secured | None = None
        self._opening = asyncio.Lock()

    def bound(self) -> Entrance:
        """Where phones come in, once it is open; its port is taken from now on.

        Asked again, it looks again: the machine may have come into another network meanwhile.

        Raises:
            Problem: the machine is in no network, or has no such address.
        """
        from coach.page.server.certificate import certificate  # not where no phone comes

        own = addresses(self._address)
        one = certificate([HERE, *own], names())
        if self._listener is None:
            self._listener = listening(None, self._usual, "0.0.0.0")
        if self._secured is not None:
            self._secured.context = one.context
        self._context = one.context
        port = self._listener.getsockname()[1]
        reach = at(own[0], port, "https")
        return Entrance(reach, tuple(own[1:]), port, one.fingerprint, one.kept)

    async def open(self) -> Entrance:
        """Let phones in from now on; the same as `bound` where they are let in already.

        Raises:
            Problem: as `bound` does.
        """
        async with self._opening:
            entrance = await asyncio.to_thread(self.bound)
            self._listen()
            return entrance

    async def leads_to(self, server: Server) -> None:
        """It is a server's from now on, which has started; it opens where it was bound before."""
        self._server = server
        self._listen()

    def _listen(self) -> None:
        if self._server and self._listener and self._secured is None:
            self._secured = self._server.secure(self._listener, self._context, self._only)


@contextlib.contextmanager
def apart(app: ASGIApp, door: Door, leave: Callable[[], None]) -> Iterator[Entrance]:
    """Serve an application to phones alone, in a thread of its own, as long as this lasts.

    Args:
        app: what is served.
        door: where they come in.
        leave: called in that thread at the end, to tell those who are in.

    Raises:
        Problem: as `Door.bound` does.
    """
    entrance = door.bound()
    server = Server(app)
    many_files()
    begun, over = threading.Event(), threading.Event()

    async def served() -> None:
        serving = asyncio.create_task(server.serve(sockets=[]))
        if await server.until_started(serving):
            await door.leads_to(server)
        begun.set()
        await asyncio.to_thread(over.wait)
        leave()
        server.should_exit = True
        await serving

    thread = threading.Thread(target=lambda: asyncio.run(served()), name="phones", daemon=True)
    thread.start()
    begun.wait()
    try:
        yield entrance
    finally:
        over.set()
        thread.join(_ENDS_WITHIN_S)
