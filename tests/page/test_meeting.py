"""A room with people in it, over real WebSockets."""

from __future__ import annotations

import asyncio
import signal
import sqlite3
import time
from pathlib import Path
from typing import Any

import pytest

from tests.page.people import (
    JUDGED_S,
    PATIENT_S,
    Instructor,
    Person,
    Phone,
    Served,
    own_port,
    served,
)


def ran(story: Any) -> None:
    asyncio.run(asyncio.wait_for(story, 3 * PATIENT_S))


def doubt_s(*people: Person) -> float:
    """How far their clocks may be off together, as they were told; on loopback some milliseconds.

    The most that each was told: what the room places is placed by what it knows then, and on a busy
    machine it knows that better a moment later. They are told again only when it has grown by a
    fifth and half a millisecond.
    """
    told_ms: list[float] = [
        max(said["uncertainty_ms"] for said in one.told if said["type"] == "settled")
        for one in people
    ]
    return sum(1.2 * one + 0.5 for one in told_ms) / 1000.0 + 0.001


def test_taps_of_phones_whose_clocks_differ_by_hours_meet_on_the_flights_clock(
    open_room: Served,
) -> None:
    async def story() -> None:
        async with (
            Instructor(open_room.host, open_room.key, ahead_s=-5000.0) as instructor,
            Phone(open_room.host, "Ada", open_room.code, ahead_s=7200.0) as ada,
            Phone(open_room.host, "Bo", open_room.code, ahead_s=-3.0) as bo,
        ):
            await asyncio.gather(ada.joined(), bo.joined())
            ready = await instructor.ready()
            with open_room.client() as client:
                drawn = client.get(f"/api/rehearsals/{ready['rehearsal']}").json()
            run = (await instructor.started())["run"]
            # The loudspeaker is heard at the second checkpoint, and both tap there.
            first = drawn["moments"][1]
            here = instructor.clock_s()
            await instructor.heard(run, first["position_s"], at_s=here)
            await asyncio.sleep(0.6)
            await ada.tap(here + 5000.0 + 7200.0 + 0.2)
            await bo.tap(here + 5000.0 - 3.0 + 0.5)
            tapped = await ada.until("tapped", number=1), await bo.until("tapped", number=1)
            for phone, one, late in zip((ada, bo), tapped, (0.2, 0.5), strict=True):
                told = doubt_s(phone, instructor)
                assert one["time_s"] == pytest.approx(first["time_s"] + late, abs=told)
            await instructor.heard(run, drawn["length_s"], at_s=here + drawn["length_s"])
            own = await ada.until("own")
            assert own["debrief"]["run"]["student"] == "Ada"
            assert own["debrief"]["run"]["ended"] == "finished"
            assert own["debrief"]["timing"]["tapped"] == 1
            await instructor.lists([("Ada", 1), ("Bo", 1)])
            picture = (await instructor.until("room", state="finished"))["picture"]
            with open_room.client() as client:
                hidden = client.get(picture).text
                await instructor.control("show")
                shown = client.get((await instructor.until("room", names_shown=True))["picture"])
                token = (await ada.until("welcome"))["token"]
                mine = client.get(own["picture"], headers={"X-Coach-Key": token})
                assert "svg" in mine.text
                assert client.get(own["picture"], headers={"X-Coach-Key": "no"}).status_code == 400
            assert hidden.count("<path") < shown.text.count("<path")

    ran(story())


def test_a_phone_that_comes_back_keeps_its_place_and_sends_no_tap_twice(open_room: Served) -> None:
    async def story() -> None:
        async with Instructor(open_room.host, open_room.key) as instructor:
            async with Phone(open_room.host, "Cleo", open_room.code) as cleo:
                welcome = await cleo.joined()
                run = await instructor.flying(JUDGED_S)
                await cleo.tap()
                await cleo.until("tapped", number=1)
            async with Phone(open_room.host, token=welcome["token"], ahead_s=99.0) as again:
                assert (await again.joined())["name"] == "Cleo"
                assert again.next == 2
                again.next = 1
                await again.tap()  # its acknowledgement might have been lost
                await again.until("tapped", number=1)
                # However long it took to come back, the sound is not over.
                await instructor.heard(run, JUDGED_S + 5.0)
                await again.tap()
                assert (await again.until("tapped", number=2))["time_s"] is not None
                await instructor.control("stop")
                own = await again.until("own")
                assert own["debrief"]["run"]["ended"] == "stopped"
                taps = own["debrief"]["timing"]
                assert taps["tapped"] + len(taps["extra_taps_s"]) == 2

    ran(story())


def test_a_phone_that_lost_its_token_goes_on_in_its_place_and_the_instructor_is_told(
    open_room: Served,
) -> None:
    async def story() -> None:
        async with Instructor(open_room.host, open_room.key) as instructor:
            await instructor.ready()
            async with Phone(open_room.host, "Nia", open_room.code) as nia:
                token = (await nia.joined())["token"]
                run = (await instructor.started())["run"]
                await instructor.heard(run, JUDGED_S)
                await nia.tap()
                await nia.until("tapped", number=1)
                for back in (False, True):  # she is there: nobody takes her place
                    async with Phone(open_room.host, "nia", open_room.code, back=back) as other:
                        refused = await other.until("refused")
                        assert "Nia is in the room already" in refused["why"]
                        assert not refused["gone"]
            await instructor.lists([])
            async with Phone(open_room.host, "Nia", open_room.code) as other:
                refused = await other.until("refused")
                assert "If that was you" in refused["why"] and refused["gone"]
            async with Phone(open_room.host, "Nia", open_room.code, back=True) as other:
                await other.joined()
                assert other.next == 2
                assert "Nia is back" in (await instructor.until("note"))["text"]
                await instructor.lists([("Nia", 1)])
                # What the lost phone had is dead: nobody is in twice, and who has it is told.
                async with Phone(open_room.host, token=token) as nia:
                    why = (await nia.until("refused"))["why"]
                    assert "Nia came in on another page, by name and code" in why
                await instructor.control("stop")
                own = (await other.until("own"))["debrief"]
                assert own["run"]["student"] == "Nia"
                await instructor.until("room", state="finished")

    ran(story())


def test_taps_while_the_sound_stands_belong_to_no_run(open_room: Served) -> None:
    async def story() -> None:
        async with (
            Instructor(open_room.host, open_room.key) as instructor,
            Phone(open_room.host, "Dag", open_room.code) as dag,
        ):
            await dag.joined()
            run = await instructor.flying(20.0)
            await instructor.control("pause")
            await instructor.heard(run, 20.0, playing=False)
            paused = await instructor.until("room", state="paused")
            assert paused["position_s"] == pytest.approx(20.0, abs=1.0)
            await asyncio.sleep(doubt_s(dag, instructor))  # surely after it stood
            await dag.tap()
            assert (await dag.until("tapped", number=1))["time_s"] is None
            await instructor.control("resume")
            await instructor.heard(run, 20.0)
            await asyncio.sleep(doubt_s(dag, instructor))  # and surely after it went on
            await dag.tap()
            assert (await dag.until("tapped", number=2))["time_s"] is not None
            await instructor.control("stop")
            await instructor.until("room", state="finished")

    ran(story())


def test_a_phone_that_slept_is_told_its_clock_jumped_and_its_taps_are_right_again(
    open_room: Served,
) -> None:
    async def story() -> None:
        async with (
            Instructor(open_room.host, open_room.key) as instructor,
            Phone(open_room.host, "Jo", open_room.code) as jo,
        ):
            await jo.joined()
            await instructor.ready()
            run = (await instructor.started())["run"]
            told = len(jo.told)
            jo.ahead_s -= 30.0
            assert "clock jumped" in (await jo.until("note"))["text"]
            await jo.until("settled", told)  # of the clock that it has now
            here = instructor.clock_s()  # by now: that took as long as it took
            await instructor.heard(run, 20.0, at_s=here)
            at_s = jo.clock_s()
            position_s = 20.0 + (at_s - jo.ahead_s) - here
            await jo.tap(at_s)
            tapped = await jo.until("tapped", number=1)
            with open_room.client() as client:
                rehearsal = (await instructor.until("room"))["rehearsal"]
                drawn = client.get(f"/api/rehearsals/{rehearsal}").json()
            flown_s = position_s - drawn["flight_start_s"]
            assert tapped["time_s"] == pytest.approx(flown_s, abs=doubt_s(jo, instructor))

    ran(story())


def test_taps_that_arrive_after_the_end_are_kept_and_judged(open_room: Served) -> None:
    async def story() -> None:
        async with Instructor(open_room.host, open_room.key) as instructor:
            async with Phone(open_room.host, "Kit", open_room.code) as kit:
                welcome = await kit.joined()
                await instructor.flying(JUDGED_S)
                await asyncio.sleep(0.2)
                tapped_s = kit.clock_s() - 0.1  # and the network is gone
            await instructor.control("stop")
            await instructor.until("room", state="finished")
            async with Phone(open_room.host, token=welcome["token"]) as again:
                await again.joined()
                await again.tap(tapped_s)
                assert (await again.until("tapped", number=1))["time_s"] is not None
                own = (await again.until("own"))["debrief"]
                assert own["run"]["ended"] == "stopped"
                assert own["timing"]["tapped"] + len(own["timing"]["extra_taps_s"]) == 1

    ran(story())


def test_ctrl_c_ends_a_room_with_people_in_it_at_once(blue: Served) -> None:
    async def story() -> None:
        async with (
            Instructor(blue.host, blue.key) as instructor,
            Phone(blue.host, "Lou", blue.code) as lou,
        ):
            await asyncio.gather(instructor.until("settled"), lou.joined())
            since = time.perf_counter()
            said = await asyncio.to_thread(blue.end)
            assert time.perf_counter() - since < PATIENT_S / 4
            assert said.strip().endswith("The page is closed.")
            assert "Traceback" not in said

    ran(story())


def test_a_second_instructors_page_takes_over_and_the_run_is_paused(open_room: Served) -> None:
    async def story() -> None:
        async with Instructor(open_room.host, open_room.key) as first:
            run = await first.flying(20.0)
            async with Instructor(open_room.host, open_room.key) as second:
                assert "Another page leads" in (await first.until("refused"))["why"]
                assert (await second.until("room", state="paused"))["run"] == run
                await second.control("stop")
                await second.until("room", state="finished")

    ran(story())


def test_what_cannot_be_done_now_is_said_in_a_sentence(open_room: Served) -> None:
    async def story() -> None:
        async with Instructor(open_room.host, open_room.key) as instructor:
            await instructor.control("resume")
            assert "cannot resume" in (await instructor.until("note"))["text"]
            since = len(instructor.told)
            await instructor.say(type="choose", chosen={"maneuver": "lazy-ate"})
            await instructor.until("room", since, state="open")
            rooms = [one["state"] for one in instructor.told[since:] if one["type"] == "room"]
            assert rooms == ["preparing", "open"]
            assert "did you mean lazy-eight?" in (await instructor.until("note"))["text"]

    ran(story())


def test_the_instructor_takes_a_student_out(open_room: Served) -> None:
    async def story() -> None:
        async with (
            Instructor(open_room.host, open_room.key) as instructor,
            Phone(open_room.host, "Eli", open_room.code) as eli,
        ):
            welcome = await eli.joined()
            (number,) = await instructor.lists([("Eli", 0)])
            await instructor.control("remove", number)
            assert "took you out" in (await eli.until("refused"))["why"]
            async with Phone(open_room.host, token=welcome["token"]) as again:
                assert (await again.until("refused"))["again"]

    ran(story())


def test_a_killed_server_comes_back_with_everybody_and_every_tap(home: Path) -> None:
    async def story() -> None:
        server = Served(home, "Green", own_port())
        async with (
            Instructor(server.host, server.key) as instructor,
            Phone(server.host, "Fay", server.code) as fay,
        ):
            token = (await fay.joined())["token"]
            await instructor.ready()
            run = (await instructor.started())["run"]
            here = instructor.clock_s()
            await instructor.heard(run, JUDGED_S, at_s=here)
            await asyncio.sleep(0.2)
            await fay.tap()
            await fay.until("tapped", number=1)
            server.end(signal.SIGKILL)  # at once: what is acknowledged is in the run for good
        await asyncio.sleep(0.2)  # sooner it would be the same tap, bouncing
        missed_s = fay.clock_s()  # the phone taps while nobody is there
        with served(home, "Green", server.port) as back:
            assert (back.key, back.code, back.port) == (server.key, server.code, server.port)
            async with (
                Phone(back.host, token=token) as fay,
                Instructor(back.host, back.key, sounding=True) as instructor,
            ):
                await fay.joined()
                fay.next = 2
                await fay.tap(missed_s)
                await instructor.until("settled")
                while not (await instructor.until("room"))["rehearsal"]:
                    await asyncio.sleep(0.05)
                assert (await instructor.until("room"))["state"] == "running"
                # As it was heard then: however long a start takes, the run is not over with it.
                await instructor.heard(run, JUDGED_S, at_s=here)
                assert (await fay.until("tapped", number=2))["time_s"] is not None
                await instructor.control("stop")
                timing = (await fay.until("own"))["debrief"]["timing"]
                assert timing["tapped"] + len(timing["extra_taps_s"]) == 2
        with sqlite3.connect(home / "logbook.sqlite3") as db:
            assert db.execute("SELECT ended FROM runs WHERE student = 'Fay'").fetchall() == [
                ("stopped",)
            ]

    ran(story())


def test_no_tap_is_lost_or_written_twice_by_closing_the_server(home: Path) -> None:
    taps = 30

    async def story() -> None:
        with served(home, "Grey", own_port()) as server:
            async with (
                Instructor(server.host, server.key) as instructor,
                Phone(server.host, "Una", server.code) as una,
            ):
                token = (await una.joined())["token"]
                await instructor.ready()
                run = (await instructor.started())["run"]
                here = instructor.clock_s()
                await instructor.heard(run, JUDGED_S, at_s=here)
                tapped_s = [una.clock_s() - 0.01 * before for before in range(taps)]
                for at_s in tapped_s:
                    await una.tap(at_s)
                assert "Traceback" not in await asyncio.to_thread(server.end)
        with served(home, "Grey", server.port) as back:
            async with (
                Phone(back.host, token=token) as una,
                Instructor(back.host, back.key, sounding=True) as instructor,
            ):
                await una.joined()
                await instructor.until("settled")
                while not (await instructor.until("room"))["rehearsal"]:
                    await asyncio.sleep(0.05)
                await instructor.heard(run, JUDGED_S, at_s=here)
                una.next = 1
                for at_s in tapped_s:
                    await una.tap(at_s)
                await una.until("tapped", number=taps)
                await instructor.control("stop")
                await una.until("own")
        with sqlite3.connect(home / "logbook.sqlite3") as db:
            kept = "SELECT count(*) FROM taps JOIN runs ON run = id WHERE student = 'Una'"
            assert db.execute(kept).fetchone() == (taps,)

    ran(story())
