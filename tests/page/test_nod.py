"""Phones whose name is somebody's already, or was taken out, over real WebSockets."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.logbook.logbook import FILE_NAME, Logbook
from coach.logbook.schema import MIGRATIONS
from tests.logbook.examples import RUN
from tests.page.people import JUDGED_S, PATIENT_S, Instructor, Phone, Served, served


def ran(story: Any) -> None:
    asyncio.run(asyncio.wait_for(story, 3 * PATIENT_S))


@pytest.fixture
def known(home: Path) -> Iterator[Served]:
    """A room whose logbook has runs of some from elsewhere."""
    with Logbook(home / FILE_NAME) as log:
        log.add(replace(RUN, student=name) for name in ("Ada", "Bo", "Cleo"))
    with served(home, "Blue") as server:
        yield server


async def waits(instructor: Instructor, names: list[str]) -> list[int]:
    """Once these wait to be let in; their numbers."""
    while True:
        guests = (await instructor.until("roster"))["guests"]
        if [one["name"] for one in guests] == names:
            return [one["number"] for one in guests]
        instructor.news.clear()
        await asyncio.wait_for(instructor.news.wait(), PATIENT_S)


async def closed(phone: Phone) -> None:
    while phone.closed is None:
        await asyncio.sleep(0.01)


def test_a_name_with_runs_from_elsewhere_is_told_nothing_until_the_instructor_lets_it_in(
    known: Served,
) -> None:
    async def story() -> None:
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "\u0410da", known.code) as ada,  # with a Cyrillic A
            Phone(known.host, "Dag", known.code) as dag,
        ):
            await dag.joined()  # whom nobody knows does not wait
            waiting = await ada.until("waiting")
            assert "the instructor is asked whether that is you" in waiting["hint"]
            (number,) = await waits(instructor, ["Ada"])
            run = await instructor.flying(JUDGED_S)
            await ada.tap()
            await dag.tap()
            await dag.until("tapped", number=1)
            told = {one["type"] for one in ada.told}
            assert told <= {"waiting", "settled"}
            await instructor.control("let_in", number)
            assert (await ada.joined())["name"] == "Ada"
            await instructor.lists([("Dag", 1), ("Ada", 0)])
            await waits(instructor, [])
            await instructor.heard(run, JUDGED_S)  # the sound is not over, however long that took
            number = await ada.tap()
            assert (await ada.until("tapped", number=number))["time_s"] is not None
            await instructor.control("stop")
            own = (await ada.until("own"))["debrief"]
            assert own["run"]["student"] == "Ada"

    ran(story())


def test_who_was_let_in_once_is_not_asked_for_again(known: Served) -> None:
    async def story() -> None:
        async with Instructor(known.host, known.key) as instructor:
            async with Phone(known.host, "Ada", known.code) as ada:
                (number,) = await waits(instructor, ["Ada"])
                await instructor.control("let_in", number)
                token = (await ada.joined())["token"]
            async with Phone(known.host, token=token) as ada:
                await ada.joined()
            await instructor.lists([])
            async with Phone(known.host, "ada", known.code, back=True) as ada:
                await ada.joined()
            await waits(instructor, [])

    ran(story())


def test_who_is_refused_gives_another_name_and_is_in(known: Served) -> None:
    async def story() -> None:
        async with Instructor(known.host, known.key) as instructor:
            async with Phone(known.host, "Ada", known.code) as other:
                (number,) = await waits(instructor, ["Ada"])
                await instructor.control("refuse", number)
                refused = await other.until("refused")
                assert "not the Ada whom the instructor knows: add a letter" in refused["why"]
                await closed(other)
            await waits(instructor, [])
            async with Phone(known.host, "Ada K", known.code) as other:
                await other.joined()

    ran(story())


def test_all_who_wait_are_let_in_together_but_for_a_second_one_of_a_name(known: Served) -> None:
    async def story() -> None:
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "Ada", known.code) as ada,
            Phone(known.host, "Bo", known.code) as bo,
        ):
            await waits(instructor, ["Ada", "Bo"])
            async with Phone(known.host, "ADA", known.code) as other:
                await waits(instructor, ["Ada", "Bo", "Ada"])
                await instructor.control("let_all_in")
                await asyncio.gather(ada.joined(), bo.joined())
                assert "Ada is in the room already" in (await other.until("refused"))["why"]
            await instructor.lists([("Ada", 0), ("Bo", 0)])

    ran(story())


def test_who_goes_while_they_wait_does_not_wait_any_more(known: Served) -> None:
    async def story() -> None:
        async with Instructor(known.host, known.key) as instructor:
            async with Phone(known.host, "Ada", known.code):
                (number,) = await waits(instructor, ["Ada"])
            await waits(instructor, [])
            await instructor.control("let_in", number)
            assert "does not wait to be let in" in (await instructor.until("note"))["text"]

    ran(story())


def test_a_second_phone_with_a_students_token_is_told_to_the_first_and_to_the_instructor(
    known: Served,
) -> None:
    async def story() -> None:
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "Dag", known.code, local=("127.0.0.1", 0)) as first,
        ):
            token = (await first.joined())["token"]
            async with Phone(known.host, token=token, local=("127.0.0.2", 0)) as second:
                assert (await second.joined())["token"] == token
                assert "came in on another page" in (await first.until("refused"))["why"]
                assert (await instructor.until("note"))["text"] == "Dag is on another phone now."
                await instructor.lists([("Dag", 0)])

    ran(story())


def test_who_is_taken_out_stays_out_until_there_is_a_new_code_and_all_others_stay_in(
    known: Served,
) -> None:
    async def story() -> None:
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "Dag", known.code) as dag,
        ):
            async with Phone(known.host, "Eve", known.code) as eve:
                token = (await eve.joined())["token"]
                await dag.joined()
                _, number = await instructor.lists([("Dag", 0), ("Eve", 0)])
                await instructor.control("remove", number)
                await closed(eve)
            for again in ({"token": token}, {"name": "\u0395ve", "code": known.code}):
                async with Phone(known.host, **again) as eve:
                    await eve.until("refused")
                    await closed(eve)
            await instructor.control("code")
            changed = await instructor.until("room")
            while changed["code"] == known.code:
                await asyncio.sleep(0.02)
                changed = await instructor.until("room")
            with known.client() as client:
                about = client.get("/api/room").json()
                assert about["code"] == changed["code"] and about["link"].endswith(about["code"])
            async with Phone(known.host, "Fay", known.code) as fay:
                assert "not this room's code" in (await fay.until("refused"))["why"]
            async with Phone(known.host, "Eve", changed["code"]) as eve:
                await eve.joined()
            assert dag.closed is None and (await dag.until("room"))["code"] == ""

    ran(story())


def test_everybody_from_one_address_is_taken_out_with_who_waits_there(known: Served) -> None:
    async def story() -> None:
        there = ("127.0.0.9", 0)
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "Dag", known.code) as dag,
            Phone(known.host, "Eve 1", known.code, local=there) as eve,
            Phone(known.host, "Eve 2", known.code, local=there) as too,
            Phone(known.host, "Ada", known.code, local=there) as guest,
        ):
            await asyncio.gather(dag.joined(), eve.joined(), too.joined(), guest.until("waiting"))
            while len((await instructor.until("roster"))["students"]) < 3:
                await asyncio.sleep(0.05)
            roster = {one["name"]: one for one in (await instructor.until("roster"))["students"]}
            assert {name: one["there"] for name, one in roster.items()} == {
                "Dag": 1,
                "Eve 1": 2,
                "Eve 2": 2,
            }
            await instructor.control("remove_all_there", roster["Eve 1"]["number"])
            await asyncio.gather(closed(eve), closed(too), closed(guest))
            await instructor.lists([("Dag", 0)])
            assert dag.closed is None
            async with Phone(known.host, "Ada", known.code) as ada:
                await ada.until("waiting")  # whose name stays out for nobody

    ran(story())


def test_taps_of_who_waits_are_kept_nowhere(known: Served, home: Path) -> None:
    async def story() -> None:
        async with (
            Instructor(known.host, known.key) as instructor,
            Phone(known.host, "Bo", known.code) as bo,
        ):
            await bo.until("settled")
            await instructor.flying(18.0)
            for _ in range(5):
                await bo.tap()
            await instructor.control("stop")
            await instructor.until("room", state="finished")

    ran(story())
    with Logbook(home / FILE_NAME) as log:
        assert sorted(run.student for run in log.runs()) == ["Ada", "Bo", "Cleo"]


def test_while_the_logbook_cannot_be_read_nobody_comes_in_and_the_instructor_is_told_why(
    home: Path,
) -> None:
    with Logbook() as logbook:
        logbook._db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")

    async def story(server: Served) -> None:
        async with (
            Instructor(server.host, server.key) as instructor,
            Phone(server.host, "Ada", server.code) as ada,
        ):
            why = (await ada.until("refused"))["why"]
            assert "tell the instructor" in why and str(home) not in why
            assert "a later version of the coach" in (await instructor.until("note"))["text"]

    with served(home, "Blue") as server:
        ran(story(server))
