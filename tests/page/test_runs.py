"""What a full room's taps become in the logbook."""

from __future__ import annotations

import asyncio
import re
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.page.room import file
from coach.page.room.room import Room
from coach.page.room.runs import Runs
from coach.page.room.student import Student
from coach.page.server.records import Records
from coach.problems import Problem
from coach.rehearsal import attempt
from coach.taps.tap import Tap
from tests.debrief import students as tapping
from tests.logbook.examples import RUN
from tests.page.people import let_in

RUN_S = tapping.RUN.reached_s
THEIRS = "pace|say less|tones|headset|calibrate|space bar|to the end|further|change one"
"""What is not for a student in a room to choose, or is not there."""


def test_taps_that_come_together_are_kept_but_for_those_that_cannot_be(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(attempt, "new_run", lambda *_: RUN)
    room, records = Room("Blue", code="1"), Records()
    room.run, room.ready = 1, SimpleNamespace(rehearsal=object())  # type: ignore[assignment]
    students = [let_in(room, f"S{number}", "1", "", 0.0) for number in range(20)]
    flown = Runs(room, records)

    async def tapped() -> list[Any]:
        return await asyncio.gather(
            *(flown.taps(one, [float(one.number), 50.0]) for one in students),
            return_exceptions=True,
        )

    async def story() -> None:
        assert await tapped() == [None] * 20
        await records.ask(lambda logbook: logbook.forget("S0"))
        first, *others = await tapped()
        assert isinstance(first, Problem) and others == [None] * 19

    try:
        asyncio.run(story())
    finally:
        records.close()
    with Logbook() as logbook:
        for one in students[1:]:
            assert one.run is not None and one.taps == 4
            kept = logbook.run(one.run)
            assert (kept.student, len(kept.taps), kept.moments) == (one.name, 4, RUN.moments)
        assert len(logbook.runs(100)) == 19


def test_what_hands_did_is_kept_with_the_run_it_was_done_in_and_again_once_it_can_be(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room, records, flown = flying(monkeypatch)
    ada, bo = students = [let_in(room, name, "1") for name in ("Ada", "Bo")]

    def part(at_s: float) -> Motion:
        return Motion((at_s, at_s + 0.02), (1.0, 2.0), (3.0, 4.0), 0.01)

    def full(*_: object) -> None:
        raise Problem("the disk is full")

    async def story() -> None:
        for one in students:
            flown.flown(one, part(1.0))
        with monkeypatch.context() as disk:
            disk.setattr(Logbook, "motion", full)
            with pytest.raises(Problem, match="the disk is full"):
                await flown.motions()
        assert (ada.run, bo.run) == (None, None)
        for one in students:
            flown.flown(one, part(2.0))
        assert set(await flown.motions()) == {ada, bo}
        assert await flown.motions() == []
        await flown.taps(ada, [2.5])
        flown.flown(ada, part(3.0))
        room.run = 2  # before it is written
        ada.anew()
        assert await flown.motions() == []
        flown.flown(ada, part(1.0))
        await flown.end("finished", RUN_S)

    try:
        asyncio.run(story())
    finally:
        records.close()
    with Logbook() as logbook:
        kept = {(run.student, run.motion.time_s, run.taps_s) for run in logbook.runs()}
    assert kept == {
        ("Ada", (1.0, 1.02, 2.0, 2.02, 3.0, 3.02), (2.5,)),
        ("Bo", (1.0, 1.02, 2.0, 2.02), ()),
        ("Ada", (1.0, 1.02), ()),
    }


def test_a_tap_of_a_run_that_is_over_when_it_is_written_starts_no_run_of_the_next(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(attempt, "new_run", lambda *_: RUN)
    room, records = Room("Blue", code="1"), Records()
    room.run, room.ready = 1, SimpleNamespace(rehearsal=object())  # type: ignore[assignment]
    ada: Student = let_in(room, "Ada", "1", "", 0.0)
    flown = Runs(room, records)

    async def story() -> None:
        late = asyncio.create_task(flown.taps(ada, [1.0]))
        await asyncio.sleep(0)
        room.run = 2  # while it is on its way to the disk
        await late
        assert (ada.run, ada.taps) == (None, 0)
        await flown.taps(ada, [2.0])

    try:
        asyncio.run(story())
    finally:
        records.close()
    with Logbook() as logbook:
        assert [run.taps_s for run in logbook.runs()] == [(2.0,), (1.0,)]


def test_a_tap_that_came_is_kept_although_the_server_closes_before_it_is_written(
    home: Path,
) -> None:
    records, free = Records(), threading.Event()

    async def story() -> None:
        number = await records.ask(lambda book: book.begin(RUN))
        writing = [
            asyncio.create_task(records.ask(lambda _: free.wait())),
            asyncio.create_task(records.ask(lambda book: book.tap(number, Tap(3.0)))),
        ]
        await asyncio.sleep(0)
        for one in writing:
            one.cancel()
        await asyncio.gather(*writing, return_exceptions=True)

    asyncio.run(story())
    free.set()
    records.close()
    with Logbook() as logbook:
        (run,) = logbook.runs()
        assert run.taps[-1] == Tap(3.0)


@pytest.mark.parametrize("reached_s", [12.0, 24.0, 50.0, RUN_S])
@pytest.mark.parametrize("student", [*tapping.TAPPING.values(), tapping.silent])
def test_a_phone_is_advised_on_nothing_that_the_instructor_decides(
    student: Callable[[int], list[float]],
    reached_s: float,
    home: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    begun = replace(tapping.RUN, support="tones", pace=0.75)
    monkeypatch.setattr(attempt, "new_run", lambda *_: begun)
    room, records = Room("Blue", code="1"), Records()
    rehearsal = SimpleNamespace(
        sheet=SimpleNamespace(flight_s=float),
        flight=SimpleNamespace(length_s=RUN_S, moments=tapping.RUN.moments),
    )
    room.run, room.ready = 1, SimpleNamespace(rehearsal=rehearsal)  # type: ignore[assignment]
    ada, flown = let_in(room, "Ada", "1", "", 0.0), Runs(room, records)
    ada.here = True

    async def advice() -> str:
        if taps_s := [at for at in student(1) if at < reached_s]:
            await flown.taps(ada, taps_s)
        await flown.end("finished" if reached_s == RUN_S else "stopped", reached_s)
        judged = await flown.own(ada)
        assert judged is not None
        return judged.next

    try:
        told = asyncio.run(advice())
    finally:
        records.close()
    assert told.endswith(".") and told.count(". ") == 0
    assert not re.search(THEIRS, told), told


def flying(monkeypatch: pytest.MonkeyPatch) -> tuple[Room, Records, Runs]:
    """A room in its first run, of `tapping.RUN`."""
    monkeypatch.setattr(
        attempt, "new_run", lambda *_: replace(tapping.RUN, started=datetime.now().astimezone())
    )
    room, records = Room("Blue", code="1"), Records()
    rehearsal = SimpleNamespace(
        sheet=SimpleNamespace(flight_s=float),
        flight=SimpleNamespace(length_s=RUN_S, moments=tapping.RUN.moments),
    )
    room.run, room.ready = 1, SimpleNamespace(rehearsal=rehearsal)  # type: ignore[assignment]
    return room, records, Runs(room, records)


def damage(number: int) -> None:
    """Put a tap into a run that none can be."""
    with sqlite3.connect(Logbook().path) as db:
        db.execute("INSERT INTO taps (run, time_s, how) VALUES (?, 1.0, 'nothing')", (number,))


def test_a_run_that_is_damaged_takes_the_debrief_from_nobody_else_and_the_instructor_is_told(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room, records, flown = flying(monkeypatch)
    students = [let_in(room, name, "1") for name in ("Ada", "Eve", "Bo", "Cy")]
    ada, eve, bo, silent = students
    silent.here = True

    async def story() -> None:
        for one in (ada, eve, bo):
            await flown.taps(one, tapping.perfect(1)[:8])
        assert eve.run is not None
        await asyncio.to_thread(damage, eve.run)
        with pytest.raises(Problem, match="What Eve flew could not be ended: Run 2 is damaged"):
            await flown.end("finished", RUN_S)
        for one in (ada, bo, silent):
            judged = await flown.own(one)
            assert judged is not None and judged.run.ended == "finished"
            assert judged.score.tapped == (0 if one is silent else 8)
        assert [run.student for run in await flown.everybody()] == ["Ada", "Bo", "Cy"]

    try:
        asyncio.run(story())
    finally:
        records.close()


def test_what_a_full_disk_had_no_room_for_is_ended_when_there_is_some(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room, records, flown = flying(monkeypatch)
    students = [let_in(room, name, "1") for name in ("Ada", "Bo")]

    def full(*_: object) -> None:
        raise Problem("the disk is full")

    async def story() -> None:
        for one in students:
            await flown.taps(one, tapping.perfect(1)[:8])
        with monkeypatch.context() as disk:
            disk.setattr(Logbook, "end", full)
            with pytest.raises(Problem, match="What Ada and Bo flew could not be ended: the disk"):
                await flown.end("finished", RUN_S)
            assert await flown.end_again() == []
        assert await flown.end_again() == students
        assert await flown.end_again() == []
        for one in students:
            judged = await flown.own(one)
            assert judged is not None
            assert (judged.run.ended, judged.run.reached_s) == ("finished", RUN_S)

    try:
        asyncio.run(story())
    finally:
        records.close()


@pytest.mark.parametrize("name", ["Eve\ufffd", "Eve\u00a0F", "Eve \U0001f468\u200d\U0001f469"])
def test_no_name_that_a_phone_can_give_damages_a_run(
    home: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    room, records, flown = flying(monkeypatch)
    students = [let_in(room, one, "1") for one in ("Ada", name, "Bo")]

    async def story() -> None:
        for one in students:
            await flown.taps(one, tapping.perfect(1)[:8])
        await flown.end("finished", RUN_S)
        for one in students:
            judged = await flown.own(one)
            assert judged is not None and judged.run.student == one.name

    try:
        asyncio.run(story())
    finally:
        records.close()


def test_a_phone_is_told_of_no_run_that_its_name_flew_elsewhere(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_home = [
        replace(
            tapping.flown(tapping.at_random(day)),
            student="Ada",
            started=datetime.now().astimezone() - timedelta(days=9 - day),
        )
        for day in range(6)
    ]

    def debriefs(before: list[Run]) -> list[dict[str, Any]]:
        room, records, flown = flying(monkeypatch)
        ada = let_in(room, "Ada", "1")
        found = []

        async def story() -> None:
            await records.ask(lambda book: [book.forget(one) for one in book.students()])
            await records.ask(lambda book: book.add(before))
            for run in (1, 2):
                room.run, ada.run, ada.taps = run, None, 0
                await flown.taps(ada, tapping.perfect(1)[: 8 * run])
                await flown.end("finished", RUN_S)
                judged = await flown.own(ada)
                assert judged is not None
                told = judged.to_dict()
                del told["run"]
                found.append(told)
            assert len(ada.runs) == 2

        try:
            asyncio.run(story())
        finally:
            records.close()
        return found

    alone = debriefs([])
    assert debriefs(at_home) == alone
    assert [len(one["trend"]["shares"]) for one in alone] == [1, 2]


def test_the_runs_of_a_room_that_was_restored_are_looked_back_at(home: Path) -> None:
    room = Room("Blue", code="1")
    let_in(room, "Ada", "1").runs = [3, 7]
    file.write("Blue", file.text(room, 8642, 0.0))
    again, _ = file.restored("Blue")
    assert [one.runs for one in again.door.students.values()] == [[3, 7]]


@pytest.mark.parametrize(
    ("given", "known"),
    [("Ada", "Ada"), ("\u0410da", "ADA"), ("bo", "Bo"), ("Cy", ""), ("ADA", "ADA")],
)
def test_whose_runs_the_logbook_has_is_known_by_any_name_that_looks_like_theirs(
    home: Path, given: str, known: str
) -> None:
    with Logbook() as log:
        log.add(replace(RUN, student=name) for name in ("Ada", "ADA", "Bo", ""))
    records = Records()
    try:
        assert asyncio.run(Runs(Room("Blue"), records).known_as(given)) == known
    finally:
        records.close()
