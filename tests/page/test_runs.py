"""What a full room's taps become in the logbook."""

from __future__ import annotations

import asyncio
import re
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.logbook.logbook import Logbook
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


@pytest.mark.parametrize("reached_s", [1.0, 24.0, 50.0, RUN_S])
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
        sheet=SimpleNamespace(flight_s=float), flight=SimpleNamespace(length_s=RUN_S)
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
