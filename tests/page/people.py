"""A served page, and people with browsers of their own that speak its messages."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import json
import os
import re
import signal
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

import httpx
import websockets

from coach.page.room.room import Room
from coach.page.room.student import Student

PATIENT_S = 60.0
"""How long to wait for what must come: it ends a test that fails, on however busy a machine."""

P = TypeVar("P", bound="Person")

CHOSEN = {"maneuver": "unusual-attitude-nose-high", "support": "tones"}
"""Half a minute, and little to be spoken: there is nothing to warn of."""

JUDGED_S = 27.0
"""A position on its soundtrack past its first checkpoint: a run that ends there is no false start."""

_SERVE = """
import sys
from coach.commands.page import serve
port, room, lan, before = sys.argv[1:]
exec(before)
serve(int(port) or None, open_browser=False, room=room or None, lan=bool(lan))
"""


def own_port() -> int:
    """A port that no other test takes while its server is away for a moment.

    It lies below those that systems give out by themselves, in a range of this process's own.
    """
    first = 10_000 + 20 * (os.getpid() % 1000)
    return first + next(_ports) % 20


_ports = itertools.count()


class Served:
    """A server of its own process, as the command starts it.

    Attributes:
        host: where its instructor is.
        reach: where phones come to that only tap.
        secure: where phones come to by HTTPS; "" where they cannot.
        said: what it printed.
    """

    def __init__(
        self, home: Path, room: str = "", port: int = 0, lan: bool = False, before: str = ""
    ) -> None:
        """Start it, and wait until it serves; of its own program, this is done before."""
        self.process = subprocess.Popen(
            [sys.executable, "-c", _SERVE, str(port), room, "lan" if lan else "", before],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "COACH_HOME": str(home), "PYTHONUNBUFFERED": "1"},
        )
        assert self.process.stdout is not None
        self.said = ""
        for line in self.process.stdout:  # which it prints once it serves
            self.said += line
            if "Ctrl-C" in line:
                break
        found = re.search(r"http://([\d.]+:\d+)/(\w+)#(\S+)", self.said)
        assert found, self.said
        self.host, self.opens, self.key = found.groups()
        self.reach = "".join(re.findall(r"only taps may come to http://(\S+)", self.said))
        self.reach = self.reach or self.host
        self.secure = "".join(re.findall(r"(?:join at|reach) https://([^\s,]+)", self.said))
        self.home = home
        self.code = "".join(re.findall(r"code (?:is )?(\d+)", self.said))

    @property
    def port(self) -> int:
        return int(self.host.rsplit(":", 1)[1])

    def trusting(self) -> ssl.SSLContext:
        """What a browser goes by that has accepted this server's certificate, and no other."""
        return ssl.create_default_context(cafile=self.home / "certificate.pem")

    def client(self) -> httpx.Client:
        """What the page itself would ask with."""
        headers = {"X-Coach-Key": self.key, "Origin": f"http://{self.host}"}
        # Without TLS no certificate is looked at: none need be read.
        return httpx.Client(
            base_url=f"http://{self.host}", headers=headers, timeout=PATIENT_S, verify=False
        )

    def end(self, how: int = signal.SIGINT) -> str:
        """End it; what it had printed since."""
        self.process.send_signal(how)
        said, _ = self.process.communicate(timeout=PATIENT_S)
        return said


@contextlib.contextmanager
def served(
    home: Path, room: str = "", port: int = 0, lan: bool = False, before: str = ""
) -> Iterator[Served]:
    """A server that ends with the test."""
    server = Served(home, room, port, lan, before)
    try:
        yield server
    finally:
        if server.process.poll() is None:
            server.end()


def let_in(
    room: Room, name: str, code: str, address: str = "", now_s: float = 0.0, *, back: bool = False
) -> Student:
    """Somebody who comes by name and code to a room whose logbook knows nobody."""
    tidied = room.door.knock(name, code, address, now_s)
    student = room.door.returned(tidied, address) if back else None
    return student or room.door.join(tidied, address)


class Person:
    """A browser: it answers every question about its clock at once and keeps what it is told."""

    def __init__(
        self,
        host: str,
        path: str,
        first: dict[str, Any],
        ahead_s: float = 0.0,
        local: tuple[str, int] | None = None,
        secure: ssl.SSLContext | None = None,
    ) -> None:
        self.host = host
        self.secure = secure  # by HTTPS, if it is
        self.path = path
        self.first = first
        self.ahead_s = ahead_s
        self.local = local  # where it comes from
        self.told: list[dict[str, Any]] = []
        self.news = asyncio.Event()
        self.closed: int | None = None

    def clock_s(self) -> float:
        """Its own clock."""
        return time.perf_counter() + self.ahead_s

    async def __aenter__(self: P) -> P:
        s = "s" if self.secure else ""
        self.socket = await websockets.connect(
            f"ws{s}://{self.host}{self.path}",
            ssl=self.secure,
            origin=websockets.Origin(f"http{s}://{self.host}"),
            open_timeout=PATIENT_S,
            local_addr=self.local,
        )
        await self.say(**self.first)
        self.listening = asyncio.create_task(self._listen())
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self.socket.close()
        await self.listening

    async def say(self, **message: Any) -> None:
        await self.socket.send(json.dumps(message))

    async def _listen(self) -> None:
        with contextlib.suppress(websockets.ConnectionClosed):
            async for text in self.socket:
                received_s = self.clock_s()
                message = json.loads(text)
                if message["type"] == "ask":
                    # Where it was closed meanwhile, what was told before that is still to be read.
                    with contextlib.suppress(websockets.ConnectionClosed):
                        await self.say(
                            type="answer",
                            number=message["number"],
                            received_s=received_s,
                            answered_s=self.clock_s(),
                        )
                else:
                    self.told.append(message)
                    self.news.set()
        self.closed = self.socket.close_code
        self.news.set()

    def last(self, type: str, since: int = 0) -> dict[str, Any] | None:
        """The last message of a type, of those told since."""
        return next((one for one in reversed(self.told[since:]) if one["type"] == type), None)

    async def until_any(self, *types: str) -> dict[str, Any]:
        """The first message of one of these types, or that it is closed."""
        while True:
            for one in self.told:
                if one["type"] in types:
                    return one
            if self.closed is not None:
                return {"type": "closed"}
            self.news.clear()
            await asyncio.wait_for(self.news.wait(), PATIENT_S)

    async def until_closed(self) -> None:
        """Once the connection is closed from the other end."""
        await asyncio.wait_for(self.listening, PATIENT_S)

    async def until(self, type: str, since: int = 0, **wanted: Any) -> dict[str, Any]:
        """The last message of a type, once it has these values."""
        while True:
            found = self.last(type, since)
            if found and all(found[name] == value for name, value in wanted.items()):
                return found
            assert self.closed is None, f"closed with {self.closed}, told {self.told[-3:]}"
            self.news.clear()
            await asyncio.wait_for(self.news.wait(), PATIENT_S)


class Phone(Person):
    """A student's phone, which keeps its taps until they are acknowledged."""

    def __init__(
        self,
        host: str,
        name: str = "",
        code: str = "",
        token: str = "",
        back: bool = False,
        **own: Any,
    ):
        first = {"type": "join", "name": name, "code": code, "token": token, "back": back}
        super().__init__(host, "/ws/join", first, **own)
        self.next = 1

    async def joined(self) -> dict[str, Any]:
        """In, and its clock known."""
        welcome = await self.until("welcome")
        self.next = max(self.next, welcome["next_tap"])
        await self.until("settled")
        return welcome

    async def tap(self, at_s: float | None = None) -> int:
        """Tap now, or at a time of its own clock; the tap's number."""
        number, self.next = self.next, self.next + 1
        await self.say(type="tap", number=number, at_s=self.clock_s() if at_s is None else at_s)
        return number


class Instructor(Person):
    """The instructor's page, whose sound is only told of."""

    def __init__(self, host: str, key: str, sounding: bool = False, **own: Any):
        first = {"type": "lead", "key": key, "sounding": sounding}
        super().__init__(host, "/ws/lead", first, **own)

    async def control(self, do: str, student: int = 0) -> None:
        await self.say(type="control", do=do, student=student)

    async def ready(self, chosen: dict[str, Any] = CHOSEN) -> dict[str, Any]:
        """Choose, and wait for it; a run that another story left is stopped."""
        await self.until("settled")
        if (await self.until("room"))["state"] in ("running", "paused"):
            await self.control("stop")
        since = len(self.told)
        await self.say(type="choose", chosen=chosen)
        return await self.until("room", since, state="ready")

    async def started(self) -> dict[str, Any]:
        """Start the run."""
        await self.control("start")
        return await self.until("room", state="running")

    async def flying(self, position_s: float) -> int:
        """The run's number, once it is heard from there on."""
        await self.ready()
        run = int((await self.started())["run"])
        await self.heard(run, position_s)
        return run

    async def lists(self, wanted: list[tuple[str, int]]) -> list[int]:
        """Once these names with so many taps are here; their numbers."""
        patient_until = time.monotonic() + PATIENT_S
        while time.monotonic() < patient_until:
            students = (await self.until("roster"))["students"]
            here = [one for one in students if one["here"]]
            if [(one["name"], one["taps"]) for one in here] == wanted:
                return [one["number"] for one in here]
            await asyncio.sleep(0.05)
        raise AssertionError(f"The roster stayed {students}.")

    async def heard(
        self, run: int, position_s: float, playing: bool = True, at_s: float | None = None
    ) -> None:
        """The loudspeaker plays from there on, now or at a time of the page's clock.

        The room has taken it in when this returns: it does one thing after the other.
        """
        await self.say(
            type="heard",
            run=run,
            position_s=position_s,
            at_s=self.clock_s() if at_s is None else at_s,
            playing=playing,
        )
        for do in ("show", "hide"):
            await self.control(do)
            await self.until("room", names_shown=do == "show")
