"""Connections that ask for nothing are closed, and no single machine can take all there are."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

MOST = 1000
MOST_FROM_ONE = 400
"""A full room's phones may come by one address, with a request each beside their WebSocket."""

REQUEST_WITHIN_S = 10.0
"""A whole request comes within this, or another one after the last."""


class Connection(H11Protocol):
    """A browser's connection until its first WebSocket message: it may not linger."""

    _seen: RequestResponseCycle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody came."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        # The set holds WebSockets as well.
        if sum(_address(one) == address for one in self.connections) > MOST_FROM_ONE:
            transport.abort()
        else:
            self.loop.call_later(REQUEST_WITHIN_S, self._look)

    def _look(self) -> None:
        if self.transport.is_closing() or self.transport.get_protocol() is not self:
            return
        if self.cycle is self._seen and (self.cycle is None or self.cycle.response_complete):
            self.transport.abort()
            return
        self._seen = self.cycle
        self.loop.call_later(REQUEST_WITHIN_S, self._look)


def _address(connection: Any) -> str:
    return connection.client[0] if connection.client else ""


def many_files() -> None:
    """Let this process have a file open for each connection, where the system allows it.

    Some systems begin at 256, fewer than a full room's phones.
    """
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        least, most = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = MOST + 200 if most == resource.RLIM_INFINITY else min(MOST + 200, most)
        if least != resource.RLIM_INFINITY and least < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, most))
