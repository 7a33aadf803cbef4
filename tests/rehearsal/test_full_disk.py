"""Promises on a full disk: the end of a run is written as soon as there is room for it."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import os
import sqlite3
import subprocess
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette

from coach.flight.day import Day
from coach.logbook.file import Full
from coach.logbook.logbook import Logbook
from coach.page.alone import attempts as page
from coach.page.alone.attempts import At, Attempts, End
from coach.page.server.records import Records
from coach.page.server.replies import get
from coach.problems import Problem
from coach.rehearsal import attempt
from coach.rehearsal.attempt import Attempt
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.rehearsal.run import FULL, run
from coach.taps.pressing import Press
from coach.taps.tap import Tap
from tests.logbook.examples import RUN
from tests.sound.hurried import Hurried

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)
LENGTH_S = RUN.moments[-1].time_s + 5.0
SHORT: Any = SimpleNamespace(
    flight=SimpleNamespace(length_s=LENGTH_S, moments=RUN.moments),
    sheet=SimpleNamespace(flight_s=lambda at_s: at_s),
)


class Disk:
    """What the logbook is written to; it can be full."""

    def __init__(self) -> None:
        self.full = False
        self.tried = 0


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    """While it is full, no run can be ended."""
    one, end = Disk(), Logbook.end

    def filling(book: Logbook, *told: Any) -> None:
        one.tried += 1
        with book._asked():
            if one.full:
                raise sqlite3.OperationalError("database or disk is full")
        end(book, *told)

    monkeypatch.setattr(Logbook, "end", filling)
    return one


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Attempts of a rehearsal that needs no voice."""
    monkeypatch.setattr(attempt, "new_run", lambda _: RUN)


@pytest.fixture
def ready(home: Path) -> Rehearsal:
    return prepare(fly(QUICK_TURN, KITE, Day()), Day())


class Finger:
    """Presses one key when told to."""

    def __init__(self) -> None:
        self.timekeeper = Hurried()
        self.key = ""

    def presses(self) -> list[Press]:
        key, self.key = self.key, ""
        return [Press(key, self.timekeeper.now())] if key else []


def flown(ready: Rehearsal, disk: Disk, finger: Finger, then: Any) -> Done:
    """A run whose disk fills up on its way; what is done as its end waits."""
    waited = []

    def show(progress: Progress) -> None:
        disk.full = disk.full or ready.sheet.flight_s(progress.position_s) > 1.0
        if progress.message == FULL:
            waited.append(finger.timekeeper.now())
            then(len(waited))

    with Logbook() as logbook:
        done = run(ready, finger, logbook, show, output="silent", timekeeper=finger.timekeeper)
    assert all(after - before >= 1.0 for before, after in itertools.pairwise(waited))
    return done


def test_a_run_waits_at_its_end_until_there_is_room(ready: Rehearsal, disk: Disk) -> None:
    def clear(times: int) -> None:
        disk.full = times < 5

    done = flown(ready, disk, Finger(), clear)
    assert done.finished and disk.tried == 6
    with Logbook() as logbook:
        assert logbook.note == ""
        kept = logbook.run(done.numbers[0])
    assert kept.ended == "finished" and kept.score is not None
    assert kept.reached_s == ready.flight.length_s


def test_who_does_not_wait_has_the_run_as_it_was_flown_when_the_logbook_is_opened_again(
    ready: Rehearsal, disk: Disk
) -> None:
    finger = Finger()

    def leave(times: int) -> None:
        finger.key = "ctrl-c"

    done = flown(ready, disk, finger, leave)
    assert done.left and done.numbers == (1,)
    with Logbook() as logbook:
        assert "had come to its end or is still being flown" in logbook.note
        assert logbook.run(1).ended == "finished"


def test_starting_over_on_a_full_disk_never_makes_one_run_of_two(
    ready: Rehearsal, disk: Disk
) -> None:
    finger = Finger()

    def show(progress: Progress) -> None:
        at_s = ready.sheet.flight_s(progress.position_s)
        if at_s > 2.0 and not disk.full:
            disk.full, finger.key = True, "r"
        elif progress.message == FULL:
            disk.full = disk.tried < 4

    with Logbook() as logbook:
        run(ready, finger, logbook, show, output="silent", timekeeper=finger.timekeeper)
        assert [kept.ended for kept in logbook.runs()] == ["stopped"]


def test_on_the_page_the_end_is_written_without_being_asked_for_again(
    home: Path, disk: Disk, short: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "AGAIN_S", 0.01)
    end = End(position_s=LENGTH_S, ended="finished")

    async def flying() -> int | None:
        records = Records()
        attempts = Attempts(records)
        name = attempts.begin(SimpleNamespace(rehearsal=SHORT), "Ada")  # type: ignore[arg-type]
        await attempts.tap(name, At(position_s=10.4))
        disk.full = True
        for _ in range(3):
            with pytest.raises(Full):
                await attempts.end(name, end)
        await asyncio.sleep(0.05)
        disk.full = False
        while name in attempts._going_on:
            await asyncio.sleep(0.01)
        # The browser asks again, as often as it likes.
        number = await attempts.end(name, end)
        assert number == await attempts.end(name, end)
        records.close()
        return number

    number = asyncio.run(flying())
    assert number is not None
    with Logbook() as logbook:
        assert logbook.note == ""
        kept = logbook.run(number)
    assert (kept.ended, kept.taps_s) == ("finished", (10.4,)) and kept.score is not None


def test_the_page_is_told_what_may_be_told_again() -> None:
    async def no_room(_: object) -> dict[str, Any]:
        raise Full("the disk is full.")

    async def wrong(_: object) -> dict[str, Any]:
        raise Problem("wrong.")

    async def asked() -> list[int]:
        app = Starlette(routes=[get("/full", no_room), get("/wrong", wrong)])
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://here") as client:
            return [(await client.get(path)).status_code for path in ("/full", "/wrong")]

    assert asyncio.run(asked()) == [507, 400]


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A disk of 300 KB; skips where none may be mounted."""
    place = tmp_path / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", str(place)]
    if os.name == "nt" or os.geteuid() != 0 or subprocess.run(mount, check=False).returncode:
        pytest.skip("no disk may be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_disk_that_is_really_full_ends_the_run_when_there_is_room(
    small: Path, short: None
) -> None:
    filler = small / "filler"
    with Logbook(small / "logbook.sqlite3") as logbook:
        flying = Attempt(SHORT)
        flying.reached(logbook, LENGTH_S - 0.9, ["Ada"])
        with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while file.write(b"\0" * 512):
                pass
        with pytest.raises(Full, match=r"the disk is full\.$"):
            for tap in range(1000):
                flying.tap(logbook, [("Ada", Tap(10.4 + tap / 1000))])
        told = len(logbook.run(1).taps)
        with pytest.raises(Full):
            flying.end(logbook, "finished", LENGTH_S)
        filler.unlink()
        flying.end(logbook, "finished", LENGTH_S)
        kept = logbook.run(1)
        assert (kept.ended, kept.reached_s, len(kept.taps)) == ("finished", LENGTH_S, told)
