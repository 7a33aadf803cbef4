"""Connections that want nothing, and a phone that wants too much, while a room flies.

From addresses that nobody has joined from come silent connections, requests that never end, answers
that are never read and WebSockets that say nothing; where the room is served over HTTPS half of
them come there, and handshakes that never end or are none as well. A phone that has joined asks for
its picture without end. Meanwhile the instructor's page is answered, a student's tap is kept, and
one who lost the connection comes back, by HTTPS where there is any: each of these is tried over and
over, and fails where it takes too long.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import logging
import random
import tempfile
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from tests.page.people import JUDGED_S, Instructor, Phone, Served, served

WITHIN_S = 3.0
"""What the instructor or a student asks for takes no longer, on a machine that has little to do."""

STRANGERS = [f"127.0.0.{number}" for number in range(2, 6)]
CLASS = "127.0.0.9"


@dataclass
class Tried:
    """What was tried, and how it went.

    Attributes:
        hostile: connections and requests that were made against the room.
        wanted: what people wanted meanwhile.
        failed: those of them that failed or took too long.
        longest_s: how long the slowest took.
        why: of the first failures.
    """

    hostile: int = 0
    wanted: int = 0
    failed: int = 0
    longest_s: float = 0.0
    why: list[str] = field(default_factory=list)

    async def wants(self, what: str, work: Callable[[], Awaitable[object]]) -> None:
        """Somebody wants something."""
        since_s, why = time.perf_counter(), ""
        self.wanted += 1
        try:
            await asyncio.wait_for(work(), 10 * WITHIN_S)
        except Exception as error:
            why = f"{type(error).__name__} {error}"
        took_s = time.perf_counter() - since_s
        self.longest_s = max(self.longest_s, took_s)
        if why or took_s > WITHIN_S:
            self.failed += 1
            self.why.append(f"{what}: {why or f'{took_s:.1f} s'}")

    def row(self, name: str, seed: int) -> str:
        """A row of the table of all attacks."""
        return (
            f"| {name} | seed {seed} | {self.hostile + self.wanted} tried | {self.failed} failed | "
            f"slowest {self.longest_s:.2f} s |"
        )


async def _hostile(
    chance: random.Random, server: Served, address: str, tried: Tried, longest_s: float
) -> None:
    """One connection that keeps its place as long as it may, or another one in it."""
    with contextlib.suppress(OSError):
        port, trust = server.port, None
        what = chance.choice(["silent", "slow", "body", "deaf", "socket"])
        if server.secure and chance.random() < 0.5:
            port = int(server.secure.rpartition(":")[2])
            what = chance.choice(["silent", "half a hello", "no hello", "slow", "body", "socket"])
            # The first three never shake hands.
            trust = server.trusting() if what in ("slow", "body", "socket") else None
        reader, writer = await asyncio.open_connection(
            "127.0.0.1", port, local_addr=(address, 0), ssl=trust
        )
        tried.hostile += 1
        try:
            await asyncio.wait_for(
                _kept(what, port, reader, writer, "https" if trust else "http"),
                chance.uniform(1.0, longest_s),
            )
        except asyncio.TimeoutError:
            pass
        finally:
            writer.close()


async def _kept(
    what: str, port: int, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, scheme: str
) -> None:
    """Until it is closed by the other side."""
    host = f"Host: 127.0.0.1:{port}\r\nOrigin: {scheme}://127.0.0.1:{port}\r\n"
    if what == "slow":
        for letter in f"GET / HTTP/1.1\r\n{host}X: ":
            writer.write(letter.encode())
            await asyncio.sleep(0.05)
    elif what == "body":
        writer.write(f"POST /key HTTP/1.1\r\n{host}Content-Length: 4000\r\n\r\n".encode())
        for _ in range(20):
            writer.write(b" ")
            await asyncio.sleep(0.2)
    elif what == "half a hello":  # a record of TLS that says how long it is, and is not
        writer.write(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(100))
    elif what == "no hello":
        writer.write(bytes(range(256)) * 20)
    elif what == "deaf":
        writer.transport.pause_reading()  # type: ignore[attr-defined]
        writer.write(f"GET /static/look.css HTTP/1.1\r\n{host}\r\n".encode() * 200)
    elif what == "socket":
        upgrade = "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        key = "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n"
        writer.write(f"GET /ws/join HTTP/1.1\r\n{host}{upgrade}{key}\r\n".encode())
    while await reader.read(1000):
        pass


async def attack(
    server: Served, seed: int, count: int, *, flying: bool = False, longest_s: float = 15.0
) -> Tried:
    """Try so many hostile connections.

    Args:
        server: a room of its own.
        seed: of what they do.
        count: how many.
        flying: whether the room flies before, and a phone asks for its picture without end.
        longest_s: how long a connection waits to be closed.
    """
    chance, tried = random.Random(seed), Tried()

    async def instructors() -> None:
        async with httpx.AsyncClient(timeout=10 * WITHIN_S) as client:
            url, key = f"http://{server.host}/api/room", {"X-Coach-Key": server.key}
            (await client.get(url, headers=key)).raise_for_status()
            if flying:
                (await client.get(f"{url}/picture.svg", headers=key)).raise_for_status()

    async def crowd() -> None:
        places = asyncio.Semaphore(min(count, 1500))

        async def one(number: int) -> None:
            async with places:
                address = STRANGERS[number % len(STRANGERS)]
                await _hostile(random.Random(seed + number), server, address, tried, longest_s)

        await asyncio.gather(*(one(number) for number in range(count)))

    async def greedy(token: str) -> None:
        limits = httpx.Limits(max_connections=20)
        there = httpx.AsyncHTTPTransport(local_address=CLASS, limits=limits)
        async with httpx.AsyncClient(transport=there, timeout=60.0) as client:
            while True:
                tried.hostile += 20
                ways = chance.choices(["", "?upright"], k=20)
                urls = [f"http://{server.host}/own/picture.svg{way}" for way in ways]
                asked = (client.get(url, headers={"X-Coach-Key": token}) for url in urls)
                await asyncio.gather(*asked, return_exceptions=True)

    async with (
        Phone(server.host, "Ada", server.code, local=(CLASS, 0)) as ada,
        Instructor(server.host, server.key) as instructor,
    ):
        token = (await ada.joined())["token"]
        if flying:
            await instructor.flying(JUDGED_S)
            await ada.tap()
            await ada.until("tapped", number=1)
            await instructor.control("stop")
            await instructor.until("room", state="finished")

        async def taps() -> None:
            await ada.until("tapped", number=await ada.tap())

        known = ""
        at = f"127.0.0.1:{server.secure.rpartition(':')[2]}" if server.secure else server.host

        async def comes_back() -> None:
            nonlocal known
            there: dict[str, Any] = {"local": (CLASS, 0), "token": known}
            if server.secure:
                there["secure"] = server.trusting()
            async with Phone(at, "Bo", server.code, **there) as bo:
                known = (await bo.joined())["token"]

        crowded = asyncio.create_task(crowd())
        asking = [asyncio.create_task(greedy(token))] if flying else []
        while not crowded.done():
            await tried.wants("the instructor's page", instructors)
            await tried.wants("a tap", taps)
            await tried.wants("a student's way back", comes_back)
            await asyncio.wait([crowded], timeout=0.2)
        for task in asking:
            task.cancel()
        await tried.wants("the instructor's page at last", instructors)
    return tried


def main() -> None:
    """Attack a room, and print a row."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--lan", action="store_true", help="over HTTPS as well")
    given = parser.parse_args()
    logging.getLogger("asyncio").setLevel(logging.ERROR)  # it warns of what is attacked with
    with (
        tempfile.TemporaryDirectory() as home,
        served(Path(home), "Attacked", lan=given.lan) as server,
    ):
        tried = asyncio.run(attack(server, given.seed, given.count, flying=True))
    print(tried.row("connections", given.seed))
    for why in tried.why[:10]:
        print(f"  {why}")


if __name__ == "__main__":
    main()
