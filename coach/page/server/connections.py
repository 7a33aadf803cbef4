"""Connections that ask for nothing are closed, and no single machine can take all there are."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Container
from typing import Any

from starlette.types import Scope
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

MOST = 1000
"""Connections at once, of which so many are left to this machine:"""
LEFT_HERE = 100

MOST_FROM_ONE = 400
"""A full room's phones may come by one address, with a request each beside their WebSocket."""

MOST_STRANGERS, MOST_STRANGERS_FROM_ONE = 500, 300
"""The same for addresses from which nobody has come in yet; a class's first phones are such."""

REQUEST_WITHIN_S = 10.0
"""A whole request comes within this, or another one after the last."""


_KNOWN = "known"


def nobody_yet() -> dict[str, Any]:
    """An application's state as it begins: no address is known to this module."""
    return {_KNOWN: set[str]()}


def is_in(scope: Scope) -> None:
    """Where a request or a WebSocket comes from, somebody is in: there is no stranger any more."""
    if (known := scope.get("state", {}).get(_KNOWN)) is not None and scope["client"]:
        known.add(scope["client"][0])


class Connection(H11Protocol):
    """A browser's connection until its first WebSocket message: it may not linger."""

    _seen: RequestResponseCycle | None = None

    def expected(self, client: tuple[str, int], server: tuple[str, int]) -> bool:
        """Somebody is at the door, and counts from now on; whether they may come in."""
        self.client, self.server = client, server
        self.connections.add(self)
        if self._is_too_much():
            self.connections.discard(self)
            return False
        return True

    def has_come(self) -> bool:
        """Whether the connection was made; whoever has not come by now is not expected any more."""
        if self.transport is None:
            self.connections.discard(self)
        return self.transport is not None

    def shutdown(self) -> None:
        """The server closes; who is only expected is sent away by the listener."""
        if self.transport is not None:
            super().shutdown()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody came; nothing is said to who may not."""
        super().connection_made(transport)
        if self._is_too_much():
            transport.abort()
        else:
            self.loop.call_later(REQUEST_WITHIN_S, self._look)

    def _is_too_much(self) -> bool:
        # The set holds WebSockets as well, and this connection.
        addresses = [_address(one) for one in self.connections]
        return _are_too_many(self, addresses, self.app_state.get(_KNOWN, ()))

    def _look(self) -> None:
        if self.transport.is_closing() or self.transport.get_protocol() is not self:
            return
        one = self.cycle
        if one is self._seen and (one is None or one.response_complete or one.more_body):
            self.transport.abort()
            return
        self._seen = self.cycle
        self.loop.call_later(REQUEST_WITHIN_S, self._look)


def _are_too_many(one: Any, addresses: list[str], known: Container[str]) -> bool:
    """Whether a connection is one too many of those from these addresses."""
    address = _address(one)
    if one.server and address == one.server[0]:  # from this machine itself
        return False
    if len(addresses) > MOST - LEFT_HERE or addresses.count(address) > MOST_FROM_ONE:
        return True
    if address in known:
        return False
    strangers = [other for other in addresses if other not in known]
    return len(strangers) > MOST_STRANGERS or strangers.count(address) > MOST_STRANGERS_FROM_ONE


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
