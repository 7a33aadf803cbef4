"""Pictures that many ask for: each drawn once, and the instructor's before all others."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import pytest

from coach.debrief.debrief import debrief
from coach.drawing.worker import Draughtsman, Order
from coach.page.server import pictures
from coach.page.server.pictures import Pictures
from coach.problems import Problem
from tests.debrief import students
from tests.debrief.students import flown
from tests.page.people import JUDGED_S, PATIENT_S, Instructor, Phone, Served, served

RUN = flown(students.late_at_90(1)[:-1])


class Slow:
    """Draws when it is told to, and remembers what."""

    def __init__(self) -> None:
        self.drawn: list[Any] = []
        self.may = threading.Semaphore(0)

    def start(self) -> None:
        pass

    def draw(self, order: Order) -> bytes:
        assert self.may.acquire(timeout=PATIENT_S)
        self.drawn.append(order.of)
        if order.of == "nothing":
            raise Problem("This cannot be drawn.")
        return str(order.of).encode()

    def close(self) -> None:
        self.may.release(100)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Slow:
    one = Slow()
    monkeypatch.setattr(pictures, "AT_ONCE", 1)
    monkeypatch.setattr(pictures, "Draughtsman", lambda: one)
    return one


def told(story: Callable[[Pictures], Coroutine[Any, Any, None]]) -> None:
    async def whole() -> None:
        drawn = Pictures()
        try:
            await asyncio.wait_for(story(drawn), PATIENT_S)
        finally:
            drawn.close()

    asyncio.run(whole())


def of(what: str) -> Callable[[], Coroutine[Any, Any, Order]]:
    async def order() -> Order:
        return Order("debrief", what)

    return order


def test_a_picture_asked_for_200_times_is_drawn_once_and_kept_until_the_run_changes(
    slow: Slow,
) -> None:
    async def story(all_: Pictures) -> None:
        asked = [asyncio.create_task(all_.kept("ada", 1, of("ada 1"))) for _ in range(100)]
        await asyncio.sleep(0)
        slow.may.release()
        assert set(await asyncio.gather(*asked)) == {b"ada 1"}
        for _ in range(100):
            assert await all_.kept("ada", 1, of("ada 1")) == b"ada 1"
        assert slow.drawn == ["ada 1"]
        slow.may.release()
        assert await all_.kept("ada", 2, of("ada 2")) == b"ada 2"
        assert slow.drawn == ["ada 1", "ada 2"]

    told(story)


def test_whoever_changes_what_they_ask_for_has_one_waiting_and_is_given_the_last(
    slow: Slow,
) -> None:
    async def story(all_: Pictures) -> None:
        first = asyncio.create_task(all_.kept("bo", 0, of("bo")))
        await asyncio.sleep(0.05)  # its turn has come
        asked = [asyncio.create_task(all_.kept("ada", run, of(f"ada {run}"))) for run in range(100)]
        await asyncio.sleep(0)
        slow.may.release(100)
        assert await first == b"bo"
        assert set(await asyncio.gather(*asked)) == {b"ada 99"}
        assert slow.drawn == ["bo", "ada 99"]

    told(story)


def test_what_the_instructor_asks_for_is_drawn_before_all_that_students_wait_for(
    slow: Slow,
) -> None:
    async def story(all_: Pictures) -> None:
        phones = [asyncio.create_task(all_.kept(name, 0, of(name))) for name in "abcdef"]
        await asyncio.sleep(0.05)  # the first one's turn has come
        brief = asyncio.create_task(all_.drawn(Order("brief", "brief")))
        everybody = asyncio.create_task(all_.kept("all", 0, of("everybody"), ahead=True))
        await asyncio.sleep(0)
        slow.may.release(100)
        await asyncio.gather(brief, everybody, *phones)
        assert slow.drawn == ["a", "brief", "everybody", *"bcdef"]

    told(story)


def test_a_picture_that_cannot_be_drawn_is_told_to_all_and_tried_again_the_next_time(
    slow: Slow,
) -> None:
    async def nobody() -> Order:
        raise Problem("Nobody has flown.")

    async def story(all_: Pictures) -> None:
        slow.may.release(100)
        for order, said in ((of("nothing"), "cannot be drawn"), (nobody, "Nobody has flown")):
            for _ in range(2):
                with pytest.raises(Problem, match=said):
                    await all_.kept("ada", 1, order)
        assert await all_.kept("ada", 1, of("ada")) == b"ada"
        assert slow.drawn == ["nothing", "nothing", "ada"]

    told(story)


def test_who_has_gone_leaves_no_picture_behind_that_keeps_others_waiting(
    slow: Slow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pictures, "MOST_KEPT", 3)

    async def story(all_: Pictures) -> None:
        slow.may.release(100)
        for name in "abcd":
            await all_.kept(name, 0, of(name))
        for name in "dcba":
            await all_.kept(name, 0, of(name))
        assert slow.drawn == [*"abcd", "a"]

    told(story)


def test_a_drawing_process_that_is_ended_costs_one_picture_and_the_next_is_drawn() -> None:
    draughtsman, order = Draughtsman(), Order("debrief", debrief(RUN), {"upright": True})
    try:
        first = draughtsman.draw(order)
        assert first.startswith(b"<?xml")
        assert draughtsman._process is not None
        os.kill(draughtsman._process.pid, signal.SIGSTOP)
        ending = threading.Timer(0.2, draughtsman._process.kill)
        ending.start()
        with pytest.raises(Problem, match="could not be drawn"):
            draughtsman.draw(order)
        draughtsman._process.wait()
        assert draughtsman.draw(order) == first
        broken = Order("debrief", replace(debrief(RUN), verdicts=None))  # type: ignore[arg-type]
        with pytest.raises(Problem, match="could not be drawn"):
            draughtsman.draw(broken)
    finally:
        draughtsman.close()


_NOTES = """
import os
from coach.drawing.worker import Draughtsman
draw = Draughtsman.draw
def noting(self, order):
    with open(os.environ["COACH_HOME"] + "/drawn", "a") as notes:
        notes.write(order.drawing + chr(10))
    return draw(self, order)
Draughtsman.draw = noting
"""
"""Has a server write down what it draws."""


def test_one_phone_asks_200_times_and_the_instructor_has_everybodys_picture_at_once(
    home: Path,
) -> None:
    async def story(blue: Served) -> None:
        async with (
            Instructor(blue.host, blue.key) as instructor,
            Phone(blue.host, "Ada", blue.code) as ada,
        ):
            token = (await ada.joined())["token"]
            await instructor.flying(JUDGED_S)
            await ada.tap()
            await ada.until("tapped", number=1)
            await instructor.control("stop")
            shown = await instructor.until("room", state="finished")
            await ada.until("own")

            def own(way: str) -> bytes:
                key = {"X-Coach-Key": token}
                url = f"http://{blue.host}/own/picture.svg?{way}"
                return httpx.get(url, headers=key, timeout=PATIENT_S, verify=False).content

            def everybodys() -> str:
                with blue.client() as client:
                    return client.get(shown["picture"]).text

            with ThreadPoolExecutor(40) as phone:
                asked = [phone.submit(own, way) for way in ("upright", "") * 100]
                assert (await asyncio.to_thread(everybodys)).startswith("<?xml")
                assert len({one.result() for one in asked}) == 2

    with served(home, "Blue", before=_NOTES) as blue:
        asyncio.run(asyncio.wait_for(story(blue), 3 * PATIENT_S))
    # Each of the two once: no third one could have kept the instructor waiting.
    drawn = (home / "drawn").read_text().split()
    assert sorted(drawn) == ["debrief", "debrief", "everybody"]
