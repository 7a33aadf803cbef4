"""A listener whose connections are secured by TLS, beside the plain ones of the same server.

A connection counts among all the others (`coach.page.server.connections`) from its beginning on,
and has no longer for its handshake than for a request: who says nothing takes no place for long.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
from collections.abc import Callable
from functools import partial
from typing import Protocol, cast

from coach.page.server.connections import REQUEST_WITHIN_S, Connection

_BREATH_S = 1.0
"""After a connection could not be taken because too many files are open."""


class _Accepting(Protocol):
    """What Windows' event loops have as well."""

    async def sock_accept(self, sock: socket.socket) -> tuple[socket.socket, tuple[str, int]]: ...


class Secured:
    """It listens until it is closed; a server closes it with its own listeners."""

    def __init__(
        self,
        listener: socket.socket,
        context: ssl.SSLContext,
        connection: Callable[[], Connection],
    ) -> None:
        """Listen from now on, in the loop that runs.

        Args:
            listener: a socket that listens already.
            context: with the certificate.
            connection: makes what a secured connection is handed to.
        """
        self.context = context
        self._listener, self._connection = listener, connection
        listener.setblocking(False)
        self._handshakes: set[asyncio.Task[None]] = set()
        self._accepting = asyncio.create_task(self._accept())

    def close(self) -> None:
        """Take no more connections; those that are secured stay."""
        self._accepting.cancel()
        for task in self._handshakes:
            task.cancel()
        self._listener.close()

    async def wait_closed(self) -> None:
        """Once nobody is at the door any more."""
        await asyncio.wait([self._accepting, *self._handshakes])

    async def _accept(self) -> None:
        while True:
            try:
                loop = cast(_Accepting, asyncio.get_running_loop())
                came, client = await loop.sock_accept(self._listener)
            except OSError:
                await asyncio.sleep(_BREATH_S)
                continue
            connection = self._connection()
            with contextlib.suppress(OSError):  # it is gone already
                if connection.expected(client, came.getsockname()):
                    task = asyncio.create_task(self._secure(came, connection))
                    self._handshakes.add(task)
                    task.add_done_callback(self._handshakes.discard)
                    # Also where it was cancelled before it began.
                    task.add_done_callback(partial(_left, came, connection))
                    continue
            came.close()

    async def _secure(self, came: socket.socket, connection: Connection) -> None:
        """Shake hands; from there on it is a connection like any other."""
        with contextlib.suppress(OSError, asyncio.TimeoutError):
            await asyncio.get_running_loop().connect_accepted_socket(
                lambda: connection,
                came,
                ssl=self.context,
                ssl_handshake_timeout=REQUEST_WITHIN_S,
            )


def _left(came: socket.socket, connection: Connection, _: asyncio.Task[None]) -> None:
    """The handshake is over, well or not."""
    if not connection.has_come():
        came.close()
