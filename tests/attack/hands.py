"""An attack on the phone that is the airplane of somebody alone: by those with its code and without.

From other addresses codes are guessed without end. Phones that have the code send what no phone
does: times of the far past and future, numbers that go back, bytes, floods, orders without end,
answers about their clock that cannot be. After each, the student's own phone comes in with the code
and what it reads is taken, and the page is told so. Run as ``python -m tests.attack.hands --seed N
--count M``: it prints how many were tried, what failed and how the server's memory grew.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import random
import tempfile
import time
from pathlib import Path
from typing import Any

import psutil
import websockets

from tests.attack.door import Found
from tests.page.people import Person, Served, served

WITHIN_S = 3.0
"""So soon the student's phone is in, and what it reads taken, on a machine with little to do."""

GUESSES = 12
"""From each address."""

MOST_GROWN = 100 << 20
"""Bytes: the server may not grow by more, however long the attack."""

_TIMES = (0.0, -9e8, 9e8, -5.0, 0.04, 1e-300, 3600.0, -3600.0)
_PARTS = (0.0, 1.0, -1.0, 1.001, 1.1, 1e308, 1e-308)
_RAW = (
    *("", "[]", "null", "{", '{"type": "held", "number": NaN}', '{"type": "come"}', "\x00" * 50),
    '{"type": "held", "number": 1, "at_s": [NaN], "quaternions": [[0, 0, 0, 1]]}',
    '{"type": "held", "number": 1, "at_s": [1e999], "angles": [[0, Infinity, 0]]}',
    "[" * 4000,
    "x" * 5000,
)


class Hostile(Person):
    """A phone with the code, whose clock says what it likes."""

    def __init__(self, host: str, code: str, chance: random.Random, address: str) -> None:
        names = "".join(chance.choices("abc\u202e\u0000'\"", k=chance.randrange(64)))
        first = {"type": "come", "code": code, "token": "", "phone": names}
        super().__init__(host, "/ws/hand", first, local=(address, 0))
        self.chance = chance
        self.ahead_s = chance.choice([0.0, 0.0, 1e6, -1e6])
        self.jumps = chance.random() < 0.3

    def clock_s(self) -> float:
        return super().clock_s() + (self.chance.uniform(-9.0, 9.0) if self.jumps else 0.0)

    def message(self) -> str:
        """Anything."""
        chance, kind = self.chance, self.chance.random()
        if kind < 0.004:
            return chance.choice(_RAW)
        if kind < 0.2:
            do = chance.choice(["easy", "learn", "held", "held"])
            return json.dumps({"type": "hold", "do": do, "phone": str(chance.random())})
        if kind < 0.25:
            what = chance.choice(["reads", "none", "refused", "unasked", "hidden"])
            return json.dumps({"type": "sensing", "what": what})
        count = chance.choice([0, 1, 5, 40, 60, 61] if kind < 0.252 else [0, 1, 5, 30])
        far_s = chance.choice(_TIMES) if chance.random() < 0.5 else 0.0
        quaternion = [chance.choice(_PARTS[: 3 if kind < 0.995 else 7]) for _ in range(4)]
        message: dict[str, Any] = {
            "type": "held",
            "number": chance.choice([0, 1, chance.randrange(1_000_000), int(time.time()) % 10**6]),
            "at_s": [round(self.clock_s() + far_s + 0.001 * one, 4) for one in range(count)],
            "quaternions": [quaternion] * count,
        }
        return json.dumps(message)

    async def attacks(self, messages: int, found: Found) -> None:
        """Send so many, or until it is closed."""
        with contextlib.suppress(websockets.ConnectionClosed):
            for _ in range(messages):
                await self.socket.send(self.message())
                found.tried["hostile messages"] += 1
                await asyncio.sleep(0.0 if self.chance.random() < 0.1 else 0.04)


async def attack(server: Served, seed: int, count: int, found: Found, messages: int = 60) -> None:
    """Try so many hostile phones, one after the other, and guesses beside each."""
    chance = random.Random(seed)
    page = Person(server.host, "/ws/watch", {"type": "watch", "key": server.key})
    with server.client() as client:
        made = await asyncio.to_thread(client.post, "/api/hand", json={"student": "Ada"})
        code = made.raise_for_status().json()["code"]
        async with page:
            await page.until("settled")
            process = psutil.Process(server.process.pid)
            before = guessed = 0
            began_s = time.perf_counter()
            for number in range(count):
                there = f"127.0.0.{20 + number % 200}"
                guessed += await _guesses(server.host, code, there, chance)
                async with Hostile(server.host, code, chance, "127.0.0.11") as hostile:
                    await hostile.attacks(messages, found)
                since_s = time.perf_counter()
                why = await _flies(server.host, code, page)
                took_s = time.perf_counter() - since_s
                found.note("the student's phone", not why and took_s < WITHIN_S, why or took_s)
                before = before or process.memory_info().rss
            most = 5 * count + 61 + (time.perf_counter() - began_s) / 10.0
            found.note("guesses looked at", guessed <= most, guessed)
            grown = process.memory_info().rss - before
            found.note("memory", grown < MOST_GROWN, f"{grown >> 20} MB more")


async def _guesses(host: str, code: str, address: str, chance: random.Random) -> int:
    """Wrong codes from there; how many of them were looked at."""
    looked_at = 0
    for _ in range(GUESSES):
        given = f"{(int(code) + chance.randrange(1, 10**6)) % 10**6:06}"
        first = {"type": "come", "code": given, "token": "", "phone": ""}
        async with Person(host, "/ws/hand", first, local=(address, 0)) as eve:
            told = await eve.until_any("welcome", "refused")
            looked_at += not str(told.get("why", "")).startswith("Too many wrong codes")
    return looked_at


async def _flies(host: str, code: str, page: Person) -> str:
    """The student's own phone takes over, and reads once; what went wrong, or ""."""
    first = {"type": "come", "code": code, "token": "", "phone": "one"}
    try:
        async with Person(host, "/ws/hand", first) as phone:
            number = (await phone.until("kept"))["number"] + 1
            await phone.until("settled")
            at_s = [round(phone.clock_s(), 4)]
            turned = [[0.0, 0.0, 0.0, 1.0]]
            await phone.say(type="held", number=number, at_s=at_s, quaternions=turned)
            await phone.until("kept", number=number)
            await page.until("phone", joined=True)
    except (AssertionError, asyncio.TimeoutError, OSError, websockets.WebSocketException) as error:
        return f"{type(error).__name__} {error}"
    return ""


def is_quiet(server: Served, said: str) -> bool:
    """Whether what it printed since it served holds no secret and no traceback."""
    return "Traceback" not in said and server.key not in said


def main() -> None:
    """Attack, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    given, found = parser.parse_args(), Found()
    with tempfile.TemporaryDirectory() as home, served(Path(home)) as server:
        asyncio.run(attack(server, given.seed, given.count, found))
        said = server.end()
    found.note("nothing told that is secret or of no use", is_quiet(server, said), said)
    print(found)


if __name__ == "__main__":
    main()
