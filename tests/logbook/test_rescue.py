"""Promises about a logbook with damage that SQLite itself stumbles over: the rest comes over."""

from __future__ import annotations

import random
import re
import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from coach.logbook.exchange import merge
from coach.logbook.logbook import Logbook
from coach.logbook.rescue import readable
from coach.logbook.run import Run
from coach.logbook.schema import MIGRATIONS
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.logbook.examples import RUN, TOLERANCES

RUNS = 24
SIZE = 4096  # of SQLite's pages
CHANCE = random.Random(6)
LONG = {name: [CHANCE.random() for _ in range(300)] for name in RUN.trace}
LONG["t_s"].sort()
"""A trace of several pages, as those of real runs are."""


def facts(run: Run) -> Run:
    return replace(run, id=None)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, list[Run]]:
    """A logbook's file, and what is in it."""
    path = tmp_path_factory.mktemp("whole") / "logbook.sqlite3"
    with Logbook(path) as log:
        log.add(
            replace(
                RUN,
                started=RUN.started + timedelta(days=day),
                trace=LONG,
                taps=tuple(Tap(1.0 + 0.1 * tap) for tap in range(8)),
                tolerances=TOLERANCES,
                ended="finished",
                reached_s=20.0,
            )
            for day in range(RUNS)
        )
        runs = [facts(run) for run in log.every()]
        assert log._db.execute("PRAGMA page_size").fetchone()[0] == SIZE
    return path.read_bytes(), runs


def damaged(file: bytes, page: int) -> bytes:
    """The file with one page of noise."""
    return file[: page * SIZE] + CHANCE.randbytes(SIZE) + file[(page + 1) * SIZE :]


def test_whatever_page_is_damaged_most_runs_can_be_read_and_none_is_changed(
    tmp_path: Path, whole: tuple[bytes, list[Run]]
) -> None:
    file, runs = whole
    path = tmp_path / "logbook.sqlite3"
    lost = []
    for page in range(len(file) // SIZE):
        path.write_bytes(damaged(file, page))
        found = [facts(run) for run in readable(path)]
        assert found == [run for run in runs if run in found], page
        lost.append(RUNS - len(found))
    # All are found by the first pages of the file, of the runs and of the taps.
    assert sum(one == RUNS for one in lost) <= 3
    assert sorted(lost)[len(lost) // 2] <= 2


@pytest.mark.parametrize("page", [0, 5, -1])
def test_what_can_be_read_is_in_the_new_logbook_and_counted(
    tmp_path: Path, whole: tuple[bytes, list[Run]], page: int
) -> None:
    file, _ = whole
    path = tmp_path / "logbook.sqlite3"
    content = damaged(file, page % (len(file) // SIZE))
    path.write_bytes(content)
    with Logbook(path) as log:
        found = len(list(log.every()))
        told = re.search(r"read of it came over to that: (\d+) runs?\.$", log.note)
        assert int(told[1] if told else 0) == found
    aside = path.with_name("logbook-set-aside-1.sqlite3")
    assert aside.read_bytes() == content
    assert len(list(readable(aside))) == found
    assert (found > 0) == (page != 0)
    with Logbook(path) as log:
        assert log.note == "" and len(list(log.every())) == found


def test_what_was_not_written_into_the_file_itself_yet_comes_over_too(
    tmp_path: Path, whole: tuple[bytes, list[Run]]
) -> None:
    file, runs = whole
    path = tmp_path / "logbook.sqlite3"
    path.write_bytes(file)
    with Logbook(path) as log:
        log.add([replace(RUN, student="Bo")])
        log_beside = path.with_name("logbook.sqlite3-wal").read_bytes()
    aside = tmp_path / "aside.sqlite3"
    aside.write_bytes(file)
    aside.with_name("aside.sqlite3-wal").write_bytes(log_beside)
    assert len(list(readable(aside))) == len(runs) + 1


def test_a_damaged_logbook_of_an_earlier_coach_comes_over(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    with sqlite3.connect(path) as db:
        for statement in MIGRATIONS[0]:
            db.execute(statement)
        db.execute("PRAGMA user_version = 1")
        db.execute("PRAGMA application_id = 0x43464C42")
    db.close()
    assert list(readable(path)) == []


def test_nothing_comes_over_from_what_is_no_logbook(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    path.write_text("Dear diary, " * 1000)
    with Logbook(path) as log:
        assert log.note.endswith("a new logbook begun.")
        assert log.runs() == ()


def test_damage_in_the_words_that_sqlite_complains_with_is_damage_too(
    tmp_path: Path, whole: tuple[bytes, list[Run]]
) -> None:
    path = tmp_path / "logbook.sqlite3"
    path.write_bytes(whole[0].replace(b"ON runs (began)", b"ON \xd6uns (began)"))
    with Logbook(path) as log:
        assert "it was set aside as logbook-set-aside-1.sqlite3" in log.note
        assert log.runs() == ()


def test_a_logbook_that_was_set_aside_can_be_brought_in_as_often_as_wanted(
    tmp_path: Path, whole: tuple[bytes, list[Run]]
) -> None:
    aside = tmp_path / "logbook-set-aside-1.sqlite3"
    aside.write_bytes(damaged(whole[0], 5))
    with Logbook(tmp_path / "logbook.sqlite3") as log:
        found = merge(log, aside)
        assert found.new > RUNS // 2 and found.known == 0
        assert (merge(log, aside).new, len(log.runs(RUNS))) == (0, found.new)
        with pytest.raises(Problem, match="No such file"):
            merge(log, tmp_path / "another.sqlite3")
        aside.write_bytes(b"")
        with pytest.raises(Problem, match="no run can be read in it"):
            merge(log, aside)
