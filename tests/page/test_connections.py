"""Connections that keep a place and ask for nothing."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys
from collections.abc import AsyncIterator, Awaitable, Callable
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
import uvicorn
from uvicorn.server import ServerState

from coach.page.server import connections
from coach.page.server.connections import MOST_STRANGERS_FROM_ONE, Connection
from tests.page.people import PATIENT_S, Phone, Served

REQUEST = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


async def app(scope: Any, receive: Any, send: Any) -> None:
    """Answers when it has been given time to."""
    await asyncio.sleep(4 * connections.REQUEST_WITHIN_S)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"answered"})


@contextlib.asynccontextmanager
async def listening(app_state: dict[str, Any] | None = None) -> AsyncIterator[int]:
    config = uvicorn.Config(app, http=Connection, log_level="error")
    config.load()
    state = ServerState()
    server = await asyncio.get_running_loop().create_server(
        lambda: Connection(config=config, server_state=state, app_state=app_state or {}),
        "127.0.0.1",
        0,
    )
    async with server:
        yield server.sockets[0].getsockname()[1]


async def gone(reader: asyncio.StreamReader) -> bool:
    """Once it is closed by the other side; whether nothing came before."""
    with contextlib.suppress(ConnectionError):
        return await asyncio.wait_for(reader.read(), PATIENT_S) == b""
    return True


def test_who_sends_no_whole_request_is_sent_away_and_who_waits_for_an_answer_is_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(connections, "REQUEST_WITHIN_S", 0.2)

    async def story() -> None:
        async with listening() as port:
            silent, _ = await asyncio.open_connection("127.0.0.1", port)
            slow, trickle = await asyncio.open_connection("127.0.0.1", port)
            unsent, post = await asyncio.open_connection("127.0.0.1", port)
            post.write(b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 4000\r\n\r\n")
            # Asked before it is let in, so that however late this test goes on it is in time.
            request = socket.create_connection(("127.0.0.1", port))
            request.sendall(REQUEST)
            asking, _ = await asyncio.open_connection(sock=request)

            async def trickled() -> None:
                trickle.write(REQUEST[:20])
                while True:
                    await asyncio.sleep(0.05)
                    trickle.write(b"x")
                    post.write(b"x")

            trickling = asyncio.create_task(trickled())
            assert await gone(silent) and await gone(slow) and await gone(unsent)
            trickling.cancel()
            answer = await asyncio.wait_for(asking.readuntil(b"\r\n"), PATIENT_S)
            assert answer == b"HTTP/1.1 200 OK\r\n"

    asyncio.run(story())


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Places for a few only."""
    if sys.platform != "linux":
        pytest.skip("Only Linux has all of 127.0.0.0/8 on this machine.")
    numbers = {"MOST": 14, "LEFT_HERE": 4, "MOST_FROM_ONE": 6}
    strangers = {"MOST_STRANGERS": 5, "MOST_STRANGERS_FROM_ONE": 3}
    for name, number in {**numbers, **strangers}.items():
        monkeypatch.setattr(connections, name, number)


async def all_seen(port: int) -> None:
    """Once the server has seen all that came and went before: it does one after the other.

    Whoever is on its own machine is always let in, and told that this is no request.
    """
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"?\r\n\r\n")
    assert (await asyncio.wait_for(reader.read(), PATIENT_S)).startswith(b"HTTP/1.1 400 ")
    writer.close()


async def came(port: int, address: str, count: int, stack: contextlib.AsyncExitStack) -> int:
    """How many of so many silent connections from an address are let in."""
    there = []
    for _ in range(count):
        one = socket.create_connection(("127.0.0.1", port), source_address=(address, 0))
        stack.callback(one.close)
        one.setblocking(False)
        there.append(one)

    def stays(one: socket.socket) -> bool:
        try:
            assert one.recv(1) == b""
        except BlockingIOError:
            return True
        except ConnectionError:
            pass
        return False

    await all_seen(port)
    return sum(map(stays, there))


def told(story: Callable[[int, contextlib.AsyncExitStack], Awaitable[None]], *known: str) -> None:
    async def whole() -> None:
        state = connections.nobody_yet()
        for address in known:
            connections.is_in({"state": state, "client": (address, 1)})
        async with listening(state) as port, contextlib.AsyncExitStack() as stack:
            await story(port, stack)

    asyncio.run(whole())


@pytest.mark.usefixtures("few")
def test_strangers_share_a_few_places_and_no_address_has_them_all() -> None:
    async def story(port: int, stack: contextlib.AsyncExitStack) -> None:
        assert await came(port, "127.0.0.2", 9, stack) == 3
        assert await came(port, "127.0.0.3", 9, stack) == 2
        assert await came(port, "127.0.0.4", 9, stack) == 0

    told(story)


@pytest.mark.usefixtures("few")
def test_who_is_in_finds_a_place_however_many_strangers_come() -> None:
    async def story(port: int, stack: contextlib.AsyncExitStack) -> None:
        for address in ("127.0.0.2", "127.0.0.3", "127.0.0.4"):
            await came(port, address, 9, stack)
        assert await came(port, "127.0.0.5", 9, stack) == 5

    told(story, "127.0.0.5")


@pytest.mark.usefixtures("few")
def test_this_machine_finds_a_place_however_many_come_of_those_who_are_in() -> None:
    async def story(port: int, stack: contextlib.AsyncExitStack) -> None:
        assert await came(port, "127.0.0.2", 9, stack) == 6
        assert await came(port, "127.0.0.3", 9, stack) == 4
        assert await came(port, "127.0.0.4", 9, stack) == 0
        assert await came(port, "127.0.0.1", 4, stack) == 4

    told(story, "127.0.0.2", "127.0.0.3", "127.0.0.4")


def test_a_class_of_250_that_comes_by_one_address_gets_in() -> None:
    def among(count: int, *others: str) -> bool:
        one = SimpleNamespace(client=("10.0.0.2", 1), server=("10.0.0.1", 80))
        return connections._are_too_many(one, ["10.0.0.2"] * count + list(others), set())

    assert not among(250) and not among(250, *(["10.0.0.3"] * 250))
    assert among(301) and among(1, *(["10.0.0.3"] * 300), *(["10.0.0.4"] * 300))


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux has all of 127.0.0.0/8 here.")
def test_whoever_joins_a_room_or_has_its_key_is_no_stranger_any_more(blue: Served) -> None:
    def stranger(address: str) -> bool:
        async def story() -> int:
            async with contextlib.AsyncExitStack() as stack:
                await all_seen(blue.port)  # what was closed before does not count any more
                return await came(blue.port, address, MOST_STRANGERS_FROM_ONE + 1, stack)

        return asyncio.run(story()) <= MOST_STRANGERS_FROM_ONE

    async def joined() -> None:
        async with Phone(blue.host, "Ada", blue.code, local=("127.0.0.2", 0)) as ada:
            await ada.joined()

    def asked(key: str) -> int:
        there = httpx.HTTPTransport(local_address="127.0.0.3")
        with httpx.Client(transport=there, timeout=PATIENT_S) as client:
            url = f"http://{blue.host}/api/room"
            return client.get(url, headers={"X-Coach-Key": key}).status_code

    assert stranger("127.0.0.2")
    asyncio.run(joined())
    assert not stranger("127.0.0.2")
    assert asked("wrong") == 403 and stranger("127.0.0.3")
    assert asked(blue.key) == 200 and not stranger("127.0.0.3")


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
