"""Connections that keep a place and ask for nothing."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from typing import Any

import pytest
import uvicorn
from uvicorn.server import ServerState

from coach.page.server import connections
from coach.page.server.connections import Connection

REQUEST = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


async def app(scope: Any, receive: Any, send: Any) -> None:
    """Answers when it has been given time to."""
    await asyncio.sleep(4 * connections.REQUEST_WITHIN_S)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"answered"})


@contextlib.asynccontextmanager
async def listening() -> AsyncIterator[int]:
    config = uvicorn.Config(app, http=Connection, log_level="error")
    config.load()
    state = ServerState()
    server = await asyncio.get_running_loop().create_server(
        lambda: Connection(config=config, server_state=state, app_state={}), "127.0.0.1", 0
    )
    async with server:
        yield server.sockets[0].getsockname()[1]


async def gone(reader: asyncio.StreamReader) -> bool:
    """Once it is closed by the other side; whether nothing came before."""
    with contextlib.suppress(ConnectionError):
        return await asyncio.wait_for(reader.read(), 30.0) == b""
    return True


def test_who_sends_no_whole_request_is_sent_away_and_who_waits_for_an_answer_is_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(connections, "REQUEST_WITHIN_S", 0.2)

    async def story() -> None:
        async with listening() as port:
            silent, _ = await asyncio.open_connection("127.0.0.1", port)
            slow, trickle = await asyncio.open_connection("127.0.0.1", port)
            asking, ask = await asyncio.open_connection("127.0.0.1", port)
            ask.write(REQUEST)

            async def trickled() -> None:
                trickle.write(REQUEST[:20])
                while True:
                    await asyncio.sleep(0.05)
                    trickle.write(b"x")

            trickling = asyncio.create_task(trickled())
            assert await gone(silent) and await gone(slow)
            trickling.cancel()
            answer = await asyncio.wait_for(asking.readuntil(b"\r\n"), 30.0)
            assert answer == b"HTTP/1.1 200 OK\r\n"

    asyncio.run(story())


def test_one_machine_cannot_take_every_place(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "MOST_FROM_ONE", 3)
    monkeypatch.setattr(connections, "REQUEST_WITHIN_S", 0.5)

    async def story() -> None:
        async with listening() as port:
            begun = []
            for _ in range(3):
                begun.append(await asyncio.open_connection("127.0.0.1", port))
                begun[-1][1].write(REQUEST)
            one_more, _ = await asyncio.open_connection("127.0.0.1", port)
            assert await gone(one_more)
            for reader, _ in begun:
                assert await asyncio.wait_for(reader.readuntil(b"\r\n"), 30.0)

    asyncio.run(story())


def test_a_system_that_begins_with_few_open_files_is_asked_for_as_many_as_a_full_room_needs() -> (
    None
):
    resource = pytest.importorskip("resource")
    least, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (256, most))
    try:
        connections.many_files()
        now, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (least, most))
    allowed = connections.MOST if most == resource.RLIM_INFINITY else min(connections.MOST, most)
    assert now >= allowed
