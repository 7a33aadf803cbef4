"""Promises where nothing can be written: it is flown and debriefed all the same, and said once."""

from __future__ import annotations

import asyncio
import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result
from rich.console import Console

from coach import settings
from coach.commands import cli, live
from coach.debrief.debrief import debrief
from coach.logbook.logbook import Logbook
from coach.logbook.schema import MIGRATIONS
from coach.page.alone import study
from coach.page.alone.attempts import At, Attempts, End
from coach.page.server.records import Records
from coach.problems import Problem
from coach.rehearsal.ready import Rehearsal, fly, prepare, support_for
from tests.rehearsal.test_full_disk import LENGTH_S, SHORT, short
from tests.rehearsal.test_run import DAY, KITE, QUICK_TURN, at_terminal, flown

__all__ = ["short"]

NOTHING = "You can fly all the same, and nothing is kept."


def _file(place: Path) -> None:
    place.write_text("no folder", encoding="utf-8")


def _read_only(place: Path) -> None:
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "ro", "tmpfs", str(place)]
    if os.name == "nt" or os.geteuid() != 0 or subprocess.run(mount, check=False).returncode:
        pytest.skip("no disk may be mounted here")


@pytest.fixture(params=[_file, _read_only], ids=["a file in its place", "a read-only disk"])
def unwritable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> Iterator[Path]:
    """A student's own folder that nothing can be written to."""
    place = tmp_path / "home"
    make: Callable[[Path], None] = request.param
    make(place)
    monkeypatch.setenv("COACH_HOME", str(place))
    yield place
    if place.is_dir():
        subprocess.run(["umount", str(place)], check=True)


@pytest.fixture
def ready(home: Path) -> Rehearsal:
    return prepare(fly(QUICK_TURN, KITE, DAY), DAY)


def coach(*words: str) -> Result:
    return CliRunner().invoke(cli.main, words)


def test_a_run_is_flown_and_debriefed_and_nothing_of_it_lies_anywhere(
    ready: Rehearsal, unwritable: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert settings.load() == settings.USUAL
    with Logbook.to_fly_with() as logbook:
        assert logbook.unkept.startswith(f"{unwritable / 'logbook.sqlite3'}: ")
        assert logbook.unkept.endswith(NOTHING)
        assert support_for(settings.USUAL, logbook, QUICK_TURN, "")[0] == "everything"
        taps = [(moment.time_s, "space") for moment in ready.flight.moments]
        done, runs = flown(ready, *taps, logbook=logbook)
        assert done.finished and len(runs[""].taps) == len(taps)
        assert debrief(runs[""]).score.on_time == len(taps)
        console = Console(width=80, record=True, quiet=True)
        live.tell(done, logbook, console)
    assert [path.name for path in tmp_path.iterdir()] == ["home"]
    assert not unwritable.is_dir() or not [*unwritable.iterdir()]


def test_on_the_page_it_is_flown_and_debriefed_as_well(unwritable: Path, short: None) -> None:
    async def flying() -> tuple[str, dict[str, Any]]:
        records = Records()
        attempts = Attempts(records)
        name = attempts.begin(SimpleNamespace(rehearsal=SHORT), "Ada")  # type: ignore[arg-type]
        await attempts.tap(name, At(position_s=10.4))
        number = await attempts.end(name, End(position_s=LENGTH_S, ended="finished"))
        assert number is not None
        found = await records.ask(lambda book: study.told(study.judged(book, number)))
        unkept = await records.unkept()
        records.close()
        return unkept, found

    unkept, found = asyncio.run(flying())
    assert unkept.endswith(NOTHING)
    assert found["run"]["ended"] == "finished" and found["timing"]["tapped"] == 1


def test_what_is_about_the_logbook_says_that_it_cannot_be_used(unwritable: Path) -> None:
    for command in ("logbook", "debrief", "next"):
        told = coach(command)
        assert told.exit_code == 1
        assert told.stderr.startswith(f"Error: {unwritable / 'logbook.sqlite3'}: ")
        assert NOTHING not in told.stderr


def test_what_is_learned_for_holds_for_now(unwritable: Path) -> None:
    told = coach("brief", "slow-flight", "--for", "commercial")
    assert told.exit_code == 0 and "FAA-S-ACS-7" in told.stdout
    assert told.stderr.startswith(f"{unwritable / 'settings.yaml'}: cannot be written: ")
    assert told.stderr.endswith("What you learn for holds for now.\n")
    assert settings.load().asked_at == "commercial"
    assert coach("settings", "checkride=private").exit_code == 1


def test_a_later_coachs_logbook_is_not_flown_past(home: Path) -> None:
    with Logbook() as logbook:
        logbook._db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    with pytest.raises(Problem, match="a later version of the coach"):
        Logbook.to_fly_with()


def test_at_a_terminal_it_is_said_before_the_run(home: Path, ready: Rehearsal) -> None:
    (home / "logbook.sqlite3").mkdir()
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        terminal.wait_for(b"start over")
        terminal.press(b"r")
        terminal.press(b"q")
        terminal.wait_for(b"nothing of it is kept")
        assert terminal.coach.wait(60) == 0
    assert b" ".join(terminal.seen.split()).count(NOTHING.encode()) == 1
