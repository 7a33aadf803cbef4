"""An attack on a class: its server killed while all tap, its room flooded, its names taken.

Run as ``python -m tests.attack.phones --seed N --count M``: M kills of the server while a class of
``--phones`` taps, then M names of students tried in every way that somebody could be taken for
them, tokens that are dead, names that were taken out, and floods of new ones. It prints how many
were tried and what failed.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import signal
import sqlite3
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path
from typing import Any

import websockets

from coach.page.room.door import Door
from coach.page.room.student import Student
from coach.page.server.names import same
from coach.problems import Problem
from tests.page.people import Instructor, Phone, Served, own_port

LONG = {"maneuver": "lazy-eight", "support": "tones"}
"""Minutes of it, to be killed in."""

ADDRESSES = ("192.0.2.7", "192.0.2.66", "198.51.100.7", "203.0.113.9")  # RFC 5737

ALIKE = {
    "A": "\u0410\u0391\uff21",
    "a": "\u0430\uff41",
    "B": "\u0412\u0392\uff22",
    "E": "\u0415\u0395",
    "e": "\u0435\uff45",
    "o": "\u043e\u03bf\uff4f",
    "c": "\u0441\uff43",
    "p": "\u0440",
    "I": "l\u0406",
    "l": "I\uff4c",
    "H": "\u041d\u0397",
    "M": "\u041c\u039c",
    "T": "\u0422\u03a4",
    "x": "\u0445",
}
"""Letters and some that look like them, from memory: not from the table that the coach asks."""

UNSEEN = "\u200b\u200d\u2060\u3164\u2800\u115f\ufe0f\u00ad\ufffd\u034f "

NAMES = ("Ada", "Bo", "Cleo", "Ian", "Lilli", "Max", "Theo", "Hal", "Maximiliane", "Pax")


@dataclass
class Found:
    """What was tried, and what of it failed.

    Attributes:
        tried: counts, by what was tried.
        failed: the same of what went wrong.
        first: of each kind that failed, the first.
    """

    tried: Counter[str] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)
    first: dict[str, str] = field(default_factory=dict)

    def note(self, what: str, well: bool, why: object = "") -> None:
        """One more was tried."""
        self.tried[what] += 1
        if not well:
            self.failed[what] += 1
            self.first.setdefault(what, str(why))

    def __str__(self) -> str:
        rows = [f"| {what} | {tried} | {self.failed[what]} |" for what, tried in self.tried.items()]
        firsts = [f"{what}: {why}" for what, why in self.first.items()]
        return "\n".join(["| what | tried | failed |", "| --- | --- | --- |", *rows, *firsts])


# At the door, without a network.


def disguised(name: str, chance: random.Random) -> str:
    """A name that somebody could take for this one."""
    letters = list(name)
    for at, letter in enumerate(letters):
        if letter in ALIKE and chance.random() < 0.5:
            letters[at] = chance.choice(ALIKE[letter])
    for _ in range(chance.randrange(3)):
        letters.insert(chance.choice((0, len(letters))), chance.choice(UNSEEN))
    for _ in range(chance.randrange(2)):
        letters.insert(chance.randrange(len(letters)), chance.choice(UNSEEN.strip()))
    made = "".join(letters)
    # Capitals of disguised letters are other letters.
    return made.swapcase() if made == name and chance.random() < 0.7 else made


def comes(door: Door, name: str, address: str, now_s: float) -> Student:
    """By name and code."""
    return door.join(door.knock(name, door.code, address, now_s), address)


def at_the_door(chance: random.Random, count: int, found: Found) -> None:
    """Names that are taken, tokens that are dead, names that were taken out, and floods."""
    for _ in range(count):
        door, now_s = Door(), 0.0
        students = [comes(door, name, ADDRESSES[0], now_s) for name in NAMES]
        for student in students:
            door.arrive(student)
        for _ in range(20):
            name = disguised(chance.choice(NAMES), chance)
            found.note(
                "names like another's", _stays_out(door, name, ADDRESSES[1], now_s), ascii(name)
            )

        lost = chance.choice(students)
        old = [lost.token]
        for _ in range(5):
            door.leave(lost, lost.connections)
            assert door.returned(
                door.knock(lost.name, door.code, ADDRESSES[0], now_s), ADDRESSES[0]
            )
            door.arrive(lost)
            for token in old:
                found.note("dead tokens", _unknown(door, token), lost.name)
            old.append(lost.token)

        gone = chance.choice(students)
        door.remove(gone.number)
        found.note("dead tokens", _unknown(door, gone.token), gone.name)
        for _ in range(20):
            name = disguised(gone.name, chance)
            found.note("names taken out", _stays_out(door, name, ADDRESSES[1], now_s), ascii(name))

        flood(door, chance, found)


def flood(door: Door, chance: random.Random, found: Found) -> None:
    """Thousands of names from three addresses, and one honest student among them."""
    let_in: Counter[str] = Counter()
    ada = next(iter(door.students.values()))
    for step in range(600):
        address = chance.choice(ADDRESSES[1:])
        try:
            comes(door, f"E {step} {chance.randrange(10**6)}", address, step / 10.0)
        except Problem:
            continue
        let_in[address] += 1
    for many in let_in.values():
        found.note("floods of joins", many <= 40 + 60 / 10 + 1, f"{many} from one address")
    found.note("honest ones in a flood", door.back(ada.token) is ada)
    while eves := [one for one in door.students.values() if one.address in ADDRESSES[1:]]:
        door.remove(eves[0].number, all_there=True)
    well = {one.address for one in door.students.values()} == {ADDRESSES[0]}
    found.note("floods taken out", well and ada.number in door.students)


def _stays_out(door: Door, name: str, address: str, now_s: float) -> bool:
    try:
        student = comes(door, name, address, now_s)
    except Problem:
        return True
    del door.students[student.number]
    return False


def _unknown(door: Door, token: str) -> bool:
    try:
        door.back(token)
    except Problem:
        return True
    return False


# Over the network, through kills.


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
        with closing(sqlite3.connect(self.home / "logbook.sqlite3")) as db:
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
    roster: dict[str, Any] = await instructor.until("roster")
    return sum(one["here"] for one in roster["students"])


@contextmanager
def _home() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


def main() -> None:
    """Attack, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--phones", type=int, default=30)
    given = parser.parse_args()
    chance, found = random.Random(given.seed), Found()
    began = time.perf_counter()
    at_the_door(chance, given.count, found)
    with _home() as home:
        asyncio.run(Class(home, chance, given.phones).flies(given.count, found))
    print(found)
    print(f"seed {given.seed}, {given.count} kills, {time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
