"""A phone in the hand of a student alone: its readings end where the page's sound was."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest

from coach.hand.grip import EASY, Grip
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.hand.simulated import Simulated, mounting
from tests.page.flown import plan
from tests.page.flyers import Flyer, apart, clocks_doubt_s
from tests.page.people import CHOSEN, PATIENT_S, Person, Served, served

TOLD_EVERY_S = 0.25
"""As `coach.page.static` does it, so that a page is known not to be gone."""

LATE_S = 1.0
"""So much of the soundtrack is still to come when what was flown before is sent."""


class Watcher(Person):
    """The student's page, whose sound is only told of: what plays is told again and again."""

    def __init__(self, host: str, key: str) -> None:
        super().__init__(host, "/ws/watch", {"type": "watch", "key": key})

    async def heard(self, run: str, position_s: float, at_s: float, playing: bool = True) -> None:
        await self.say(type="heard", run=run, position_s=position_s, at_s=at_s, playing=playing)

    @contextlib.asynccontextmanager
    async def sounding(self, run: str, position_s: float, at_s: float) -> AsyncIterator[None]:
        """It plays on from there meanwhile, and so is heard after the server was halted as well."""

        async def on() -> None:
            while True:
                await self.heard(run, position_s + self.clock_s() - at_s, self.clock_s())
                await asyncio.sleep(TOLD_EVERY_S)

        await self.heard(run, position_s, at_s)
        telling = asyncio.create_task(on())
        try:
            yield
        finally:
            telling.cancel()


class Hand(Flyer):
    """A phone that comes in by the rehearsal's code."""

    def __init__(self, host: str, code: str = "", token: str = "", grip: Grip = EASY) -> None:
        super().__init__(host, grip=grip, ahead_s=50.0)
        self.path = "/ws/hand"
        self.first = {"type": "come", "code": code, "token": token, "phone": "a phone"}


@pytest.fixture(scope="module")
def server(new_home: Callable[[], Path]) -> Iterator[Served]:
    """For all of these tests, each of which flies without a phone again when it is over."""
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))
    with served(new_home()) as one:
        yield one


class Desk:
    """What the page asks for beside its WebSocket."""

    def __init__(self, client: httpx.Client) -> None:
        self._client = client

    async def asks(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = await asyncio.to_thread(self._client.post, path, json=body)
        return dict(answer.raise_for_status().json())

    async def ready(self) -> dict[str, Any]:
        """A rehearsal, all of it."""
        id = (await self.asks("/api/rehearsals", CHOSEN))["id"]
        answer = await asyncio.to_thread(self._client.get, f"/api/rehearsals/{id}")
        return dict(answer.json())

    async def begins(self, rehearsal: dict[str, Any]) -> str:
        body = {"rehearsal": rehearsal["id"], "student": "Ada"}
        return str((await self.asks("/api/attempts", body))["run"])

    async def ends(self, run: str, position_s: float) -> int:
        body = {"position_s": position_s, "ended": "finished"}
        return int((await self.asks(f"/api/attempts/{run}/end", body))["number"])


def told(story: Any) -> None:
    asyncio.run(asyncio.wait_for(story, 3 * PATIENT_S))


def run_of(server: Served, number: int) -> Run:
    with Logbook(server.home / "logbook.sqlite3") as book:
        return book.run(number)


def flew(run: Run, hand: Simulated, from_s: float, to_s: float) -> None:
    """All that it flew in between is there, where it was and as it was, and nothing else."""
    times, doubt_s = np.array(run.motion.time_s), clocks_doubt_s(run)
    assert times[0] < from_s + 0.1 + doubt_s
    assert times[-1] == pytest.approx(to_s, abs=0.2 + doubt_s)
    assert np.diff(times).min() > 0.0
    for off in apart(run, hand):
        assert abs(np.median(off)) < 1.0
        assert np.percentile(np.abs(off - np.median(off)), 95) < 0.5


def test_what_a_phone_reads_is_kept_where_the_sound_was_and_what_comes_late_is_judged_anew(
    server: Served,
) -> None:
    grip = mounting(7)
    with Logbook(server.home / "logbook.sqlite3") as book:  # as it was shown the last time
        book.keep_grip("Ada", "a phone", grip)
    numbers = []
    hands = []

    async def story(desk: Desk) -> None:
        rehearsal = await desk.ready()
        flown, start_s, length_s = (
            plan(rehearsal),
            rehearsal["flight_start_s"],
            rehearsal["length_s"],
        )
        code = (await desk.asks("/api/hand", {"student": "Ada"}))["code"]
        async with Watcher(server.host, server.key) as page:
            await page.until("settled")
            assert not (await page.until("phone"))["joined"]
            for seed in range(2):
                hands.append(Simulated(flown, seed, noise_deg=0.2, rate_hz=30.0))
                async with Hand(server.host, code, grip=grip) as phone:
                    await phone.again()
                    token = (await phone.until("welcome"))["token"]
                    await page.until("phone", joined=True, trouble="")
                    run = await desk.begins(rehearsal)
                    here = page.clock_s()
                    async with page.sounding(run, length_s - LATE_S, here):
                        await phone.until("holding", state="flying")
                    began_s = here - (length_s - LATE_S - start_s)
                    phone.read(hands[-1], hands[-1].times_s, began_s)
                    late: list[Any] = []
                    if seed:  # its last third comes when all is over
                        third = len(phone.unsent) * 2 // 3
                        phone.unsent, late = phone.unsent[:third], phone.unsent[third:]
                    await phone.send()
                    await phone.all_kept()
                    await asyncio.sleep(max(0.0, here + LATE_S - page.clock_s()))
                    numbers.append(await desk.ends(run, length_s))
                    await phone.until("holding", state="over")
            await page.until(
                "phone", joined=True, words="The rehearsal goes on without your phone."
            )
            assert run_of(server, numbers[1]).motion.time_s[-1] < 0.7 * flown.time_s[-1]
            assert page.last("anew") is None
            async with Hand(server.host, token=token, grip=grip) as again:
                await again.again()
                again.unsent = late
                await again.send()
                while run_of(server, numbers[1]).motion.time_s[-1] < flown.time_s[-1] - 0.2:
                    await asyncio.sleep(0.1)
                assert (await page.until("anew"))["number"] == numbers[1]
        await desk.asks("/api/hand/leave", {})

    with server.client() as client:
        told(story(Desk(client)))
        shown = client.get(f"/api/runs/{numbers[1]}").json()
    for number, hand in zip(numbers, hands, strict=True):
        flew(run_of(server, number), hand, -1.0, hand.plan.time_s[-1])
    assert numbers[0] != numbers[1]
    assert all(row["held"]["bank"] for row in shown["checkpoints"])


def test_nothing_is_kept_while_the_sound_stands(server: Served) -> None:
    numbers = []

    async def story(desk: Desk) -> None:
        rehearsal = await desk.ready()
        flown, start_s = plan(rehearsal), rehearsal["flight_start_s"]
        code = (await desk.asks("/api/hand", {"student": ""}))["code"]
        async with Watcher(server.host, server.key) as page, Hand(server.host, code) as phone:
            await page.until("settled")
            await phone.again()
            hand = Simulated(flown, 1, noise_deg=0.2, rate_hz=30.0)
            run = await desk.begins(rehearsal)
            here = page.clock_s()
            stood_s = flown.time_s[-1] - 2.0
            await page.heard(run, start_s + stood_s, here)
            await page.heard(run, start_s + stood_s, here, playing=False)
            await phone.until("holding", state="paused")
            phone.read(hand, hand.times_s[hand.times_s < flown.time_s[-1]], here - stood_s)
            await asyncio.sleep(2.5)  # what is read in the pause is read by then
            await phone.send()
            await phone.all_kept()
            numbers.append(await desk.ends(run, start_s + stood_s))
        await desk.asks("/api/hand/leave", {})

    with server.client() as client:
        told(story(Desk(client)))
    kept = run_of(server, numbers[0]).motion.time_s
    assert kept[-1] == pytest.approx(run_of(server, numbers[0]).reached_s, abs=0.2)


def test_the_page_that_has_the_key_watches_and_the_last_one_that_came(server: Served) -> None:
    async def story(desk: Desk) -> None:
        async with Watcher(server.host, "made up") as stranger:
            assert "its end is the key" in (await stranger.until_any("refused"))["why"]
        async with Person(server.host, "/ws/watch", {"type": "heard"}) as rude:
            await rude.until_closed()
            assert rude.told == []
        async with Watcher(server.host, server.key) as first:
            await first.until("settled")
            async with Watcher(server.host, server.key) as second:
                assert "Another page" in (await first.until_any("refused"))["why"]
                await second.until("settled")
                await second.say(type="tap", number=1, at_s=0.0)
                await second.until_closed()
                assert second.closed == 1008

    with server.client() as client:
        told(story(Desk(client)))


def test_a_phone_comes_in_where_one_is_wanted_and_is_told_when_none_is_any_more(
    server: Served,
) -> None:
    async def story(desk: Desk) -> None:
        async with Hand(server.host, "123456") as early:
            assert "Press Fly with your phone" in (await early.until_any("refused"))["why"]
        opened = await desk.asks("/api/hand", {"student": ""})
        assert opened["address"].startswith("https://") and opened["address"].endswith("/hand")
        assert await desk.asks("/api/hand", {"student": ""}) == opened
        async with Hand(server.host, opened["code"]) as phone:
            await phone.again()
            await desk.asks("/api/hand/leave", {})
            assert "without a phone" in (await phone.until_any("refused"))["why"]
        assert (await desk.asks("/api/hand", {"student": ""}))["code"] != opened["code"]

    with server.client() as client:
        assert not client.get("/api/library").json()["hand"]
        assert client.get("/api/hand/qr.svg").status_code == 400
        told(story(Desk(client)))
        assert client.get("/api/library").json()["hand"]
        assert "svg" in client.get("/api/hand/qr.svg").text
        client.post("/api/hand/leave", json={})
