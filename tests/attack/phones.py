"""An attack on a class with phones: its server is killed while all tap, and its room is flooded.

Run as ``python -m tests.attack.phones --seed N --count M``: M kills of the server while a class of
``--phones`` taps, then floods of new names from a few addresses while it joins and taps. It prints
how many were tried and what failed; `door` attacks the names and tokens.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import random
import signal
import sqlite3
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path
from typing import Any

import websockets

from coach.page.server.names import same
from tests.attack.door import Found
from tests.page.people import Instructor, Phone, Served, own_port, served

LONG = {"maneuver": "lazy-eight", "support": "tones"}
"""Minutes of it, to be killed in."""


@dataclass
class Tapper:
    """A student whose phone taps on whatever happens, as the phone's page does.

    Attributes:
        name: theirs.
        chance: when they tap.
        token: what their phone comes back with.
        kept: the taps that were not acknowledged yet.
        next: the number of the next.
        acknowledged: where those belong that were, in flight seconds.
        refused: why the room did not know them any more.
    """

    name: str
    chance: random.Random
    token: str = ""
    kept: dict[int, float] = field(default_factory=dict)
    next: int = 1
    acknowledged: list[float] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)

    async def taps(self, host: str, code: str, flying: asyncio.Event, over: asyncio.Event) -> None:
        """Until it is over and every tap is acknowledged, through as many servers as it takes."""
        while not (over.is_set() and not self.kept):
            try:
                async with Phone(host, self.name, code, self.token) as phone:
                    await self._connected(phone, flying, over)
            except (OSError, websockets.WebSocketException, asyncio.TimeoutError):
                await asyncio.sleep(0.1)

    async def _connected(self, phone: Phone, flying: asyncio.Event, over: asyncio.Event) -> None:
        first = await phone.until_any("welcome", "refused")
        if first["type"] == "refused":
            self.refused.append(first["why"])
            self.token = ""
        if first["type"] != "welcome":
            return
        self.token = first["token"]
        self.kept = {number: at for number, at in self.kept.items() if number >= first["next_tap"]}
        self.next = max(first["next_tap"], *(number + 1 for number in self.kept), 1)
        if (await phone.until_any("settled"))["type"] == "closed":
            return
        for number, at_s in self.kept.items():
            await phone.say(type="tap", number=number, at_s=at_s)
        heard = 0
        while phone.closed is None and not (over.is_set() and not self.kept):
            if flying.is_set() and not over.is_set():
                number, at_s = self.next, phone.clock_s()
                self.next, self.kept[number] = number + 1, at_s
                await phone.say(type="tap", number=number, at_s=at_s)
            await asyncio.sleep(self.chance.uniform(0.15, 0.5))
            heard = self._hear(phone, heard)
        self._hear(phone, heard)

    def _hear(self, phone: Phone, heard: int) -> int:
        for one in phone.told[heard:]:
            if one["type"] != "tapped" or self.kept.pop(one["number"], None) is None:
                continue
            if one["time_s"] is not None:
                self.acknowledged.append(one["time_s"])
        return len(phone.told)


class Class:
    """A class that flies while its server is killed and started again."""

    def __init__(self, home: Path, chance: random.Random, phones: int) -> None:
        self.home, self.chance = home, chance
        self.server = Served(home, "Attack", own_port())
        self.tappers = [Tapper(f"Student {n}", random.Random(n)) for n in range(phones)]
        self.flying, self.over = asyncio.Event(), asyncio.Event()
        self.run, self.begun_s = 0, 0.0

    async def flies(self, kills: int, found: Found) -> None:
        """A run with so many kills in it."""
        host, code = self.server.host, self.server.code
        tasks = [
            asyncio.create_task(one.taps(host, code, self.flying, self.over))
            for one in self.tappers
        ]
        async with Instructor(host, self.server.key) as instructor:
            await instructor.ready(LONG)
            while await _here(instructor) < len(self.tappers):
                await asyncio.sleep(0.1)
            self.run = (await instructor.started())["run"]
            self.begun_s = instructor.clock_s() - 16.0
            await instructor.heard(self.run, 16.0)
            await asyncio.sleep(1.0)  # the room's file is written twice a second
            self.flying.set()
        for _ in range(kills):
            await self._killed()
        async with Instructor(host, self.server.key, sounding=True) as instructor:
            await self._sounds(instructor)
            await asyncio.sleep(1.0)
            self.over.set()
            await asyncio.wait_for(asyncio.gather(*tasks), 60.0)
            students = (await instructor.until("roster"))["students"]
            await instructor.control("stop")
            await instructor.until("room", state="finished")
        self.server.end()
        names = [one["name"] for one in students]
        twice = [pair for pair in combinations(names, 2) if same(*pair)]
        found.note("everybody in once", len(names) == len(self.tappers) and not twice, names)
        self._judged(found)

    async def _killed(self) -> None:
        """Killed in the middle of taps, and started again."""
        async with Instructor(self.server.host, self.server.key, sounding=True) as instructor:
            await self._sounds(instructor)
            await asyncio.sleep(self.chance.uniform(0.2, 2.0))
            await asyncio.to_thread(self.server.end, signal.SIGKILL)
        await asyncio.sleep(self.chance.uniform(0.0, 0.5))
        port = self.server.port
        self.server = await asyncio.to_thread(Served, self.home, "Attack", port)

    async def _sounds(self, instructor: Instructor) -> None:
        await instructor.until("settled")
        while not (await instructor.until("room"))["rehearsal"]:
            await asyncio.sleep(0.05)
        now_s = instructor.clock_s()
        if now_s - self.begun_s > 90.0:  # it never comes to its end
            self.begun_s = now_s - 16.0
        await instructor.heard(self.run, now_s - self.begun_s, at_s=now_s)

    def _judged(self, found: Found) -> None:
        with contextlib.closing(sqlite3.connect(self.home / "logbook.sqlite3")) as db:
            for one in self.tappers:
                runs = db.execute("SELECT id FROM runs WHERE student = ?", (one.name,)).fetchall()
                found.note("one run for each", len(runs) == 1, f"{one.name}: {len(runs)}")
                kept = Counter(
                    time_s
                    for (time_s,) in db.execute(
                        "SELECT time_s FROM taps JOIN runs ON run = id WHERE student = ?",
                        (one.name,),
                    )
                )
                for time_s in one.acknowledged:
                    found.note("taps acknowledged", kept[time_s] > 0, f"{one.name} {time_s}")
                    kept[time_s] -= 1
                found.note("phones known again", not one.refused, one.refused)
                found.tried["taps written beside those"] += sum(kept.values())


async def _here(instructor: Instructor) -> int:
    return sum(one["here"] for one in await _roster(instructor))


FLOODING = ("127.0.0.66", "127.0.0.67", "127.0.0.68")
WITHIN_S = 3.0
"""So soon a student comes in, and a tap is acknowledged, whatever others do."""


async def flooded(server: Served, chance: random.Random, found: Found) -> None:
    """Names without end from three addresses, while a student comes in and taps."""
    over, let_in = asyncio.Event(), Counter[str]()
    began_s = time.perf_counter()

    async def floods(address: str) -> None:
        while not over.is_set():
            name = f"E{chance.randrange(10**9)}"
            with contextlib.suppress(OSError, websockets.WebSocketException):
                async with Phone(server.host, name, server.code, local=(address, 0)) as eve:
                    told = await eve.until_any("welcome", "refused")
                    let_in[address] += told["type"] == "welcome"

    async with Instructor(server.host, server.key) as instructor:
        tasks = [asyncio.create_task(floods(there)) for there in FLOODING for _ in range(3)]
        await instructor.flying(18.0)
        for number in range(20):
            since_s = time.perf_counter()
            async with Phone(server.host, f"Ada {number}", server.code) as ada:
                await ada.until("welcome")
                took_s = time.perf_counter() - since_s
                found.note("joins in a flood", took_s < WITHIN_S, took_s)
                since_s = time.perf_counter()
                await ada.until("settled")
                tap = await ada.tap()
                await ada.until("tapped", number=tap)
                took_s = time.perf_counter() - since_s
                found.note("taps in a flood", took_s < WITHIN_S, took_s)
        over.set()
        await asyncio.gather(*tasks)
        lasted_s = time.perf_counter() - began_s
        for address, many in let_in.items():
            found.note("addresses that flood", many <= 41 + lasted_s / 10, f"{many} from {address}")
        await instructor.control("stop")
        while eves := [one for one in await _roster(instructor) if one["name"].startswith("E")]:
            told = len(instructor.told)
            await instructor.control("remove_all_there", eves[0]["number"])
            await instructor.until("roster", told)
        left = [one["name"] for one in await _roster(instructor)]
        found.note("floods taken out", len(left) == 20, left)


async def _roster(instructor: Instructor) -> list[dict[str, Any]]:
    return list((await instructor.until("roster"))["students"])


def main() -> None:
    """Attack, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--phones", type=int, default=30)
    given, found = parser.parse_args(), Found()
    chance, began_s = random.Random(given.seed), time.perf_counter()
    with tempfile.TemporaryDirectory() as home:
        asyncio.run(Class(Path(home), chance, given.phones).flies(given.count, found))
    with tempfile.TemporaryDirectory() as home, served(Path(home), "Flooded") as server:
        asyncio.run(flooded(server, chance, found))
    print(found)
    print(f"seed {given.seed}, {given.count} kills, {time.perf_counter() - began_s:.0f} s")


if __name__ == "__main__":
    main()
