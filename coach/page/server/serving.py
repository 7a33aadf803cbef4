"""An application served on this machine, until Ctrl-C."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import ssl
from collections.abc import Callable, Iterable
from typing import Protocol, cast

import uvicorn
from starlette.types import ASGIApp

from coach.page.server.connections import MOST, Connection, many_files
from coach.page.server.guard import answers_only
from coach.page.server.limits import MESSAGE_BYTES
from coach.page.server.secured import Secured
from coach.problems import Problem

_OPEN_REQUESTS_S = 1
"""What is asked for as the page is closed has so long to be answered, and is given up then."""


def listening(port: int | None, usual: int, host: str) -> socket.socket:
    """A socket that listens on the port, or the usual one, or any that is free.

    Raises:
        Problem: the port is taken.
    """
    for wanted in (port,) if port is not None else (usual, 0):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # elsewhere it would share the port with whoever has it
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, wanted))
            listener.listen()  # now, or another coach could still take the port
        except (OSError, OverflowError):
            listener.close()
            continue
        return listener
    raise Problem(f"Port {port} cannot be used here: another program has it, or it is none.")


class Server(uvicorn.Server):
    """One application at several listeners, plain and secured, which may come while it runs."""

    def __init__(self, app: ASGIApp) -> None:
        """Nothing listens yet."""
        super().__init__(
            uvicorn.Config(
                app,
                http=Connection,
                log_level="error",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ws_per_message_deflate=False,
                date_header=False,
                ws_max_size=MESSAGE_BYTES,
                limit_concurrency=MOST,
                timeout_graceful_shutdown=_OPEN_REQUESTS_S + 2,  # for browsers that take no answer
            )
        )

    async def until_started(self, serving: asyncio.Future[None]) -> bool:
        """Wait until it serves; False where that ended before."""
        while not self.started and not serving.done():
            await asyncio.sleep(0.02)
        return not serving.done()

    def secure(
        self, listener: socket.socket, context: ssl.SSLContext, only: Iterable[str] | None = None
    ) -> Secured:
        """Listen there too, by TLS; called in its own loop once it has started.

        Args:
            listener: a socket that listens.
            context: with the certificate.
            only: the paths that are answered there, see `coach.page.server.guard`; None for all.
        """
        state = self.lifespan.state if only is None else answers_only(self.lifespan.state, only)

        def connection() -> Connection:
            return Connection(self.config, self.server_state, state)

        secured = Secured(listener, context, connection)
        self.servers.append(cast(asyncio.base_events.Server, secured))
        return secured


class Door(Protocol):
    """What is told of the server as soon as that serves: `coach.page.server.phones_door.Door`."""

    async def leads_to(self, server: Server) -> None:
        """The server has started, and this runs in its loop."""


def serve(
    app: ASGIApp,
    listener: socket.socket,
    ready: Callable[[], None],
    closed: Callable[[], None],
    door: Door | None = None,
) -> None:
    """Serve it; Ctrl-C ends the process.

    Args:
        app: what is served.
        listener: where.
        ready: called in a thread of its own once it can be asked.
        closed: called at the end.
        door: for phones, which may be opened from then on, and is now where it is bound already.
    """
    server = Server(app)
    many_files()
    with listener:
        asyncio.run(_served(server, listener, ready, closed, door))


async def _served(
    server: Server,
    listener: socket.socket,
    ready: Callable[[], None],
    closed: Callable[[], None],
    door: Door | None,
) -> None:
    # When it has closed, the server passes Ctrl-C on.
    with contextlib.suppress(asyncio.CancelledError, KeyboardInterrupt):
        serving = asyncio.create_task(server.serve(sockets=[listener]))
        if await server.until_started(serving):
            if door is not None:
                await door.leads_to(server)
            await asyncio.to_thread(ready)
        while not (server.should_exit or serving.done()):
            await asyncio.sleep(0.1)
        await asyncio.wait([serving], timeout=_OPEN_REQUESTS_S)
        for task in server.server_state.tasks:
            task.cancel()
        await serving
    closed()
    # Python would wait for threads that compute what nobody waits for; all that counts is on disk.
    os._exit(0)
