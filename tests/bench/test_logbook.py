"""How quick a logbook of 100,000 runs is, and what 200 killed coaches leave behind.

Run with ``pytest tests/bench/test_logbook.py -o addopts= -s``; making the file takes a minute.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest

from coach.logbook.exchange import export, merge
from coach.logbook.logbook import Logbook
from coach.logbook.run import TRACE_COLUMNS, Run, Score
from coach.taps.tap import Tap
from tests.logbook.examples import MOMENTS, RUN, keeps_what_was_told_when_killed

RUNS = 100_000
STUDENTS = ("Ada", "Bo", "Cleo", "Dov")
MANEUVERS = tuple(f"maneuver-{number}" for number in range(25))
PAST = (
    "import sys, time; from pathlib import Path; began = time.perf_counter(); "
    "from coach.logbook.logbook import Logbook; log = Logbook(Path(sys.argv[1])); "
    "past = log.past('Ada'); print(time.perf_counter() - began, len(past))"
)


def many(count: int) -> Iterator[Run]:
    """Runs as long as a lazy eight's, whose traces do not shrink to nothing."""
    dice = random.Random(1)
    moments = tuple(
        replace(MOMENTS[0], name=str(number), time_s=8.0 * number, ias_kt=dice.uniform(60, 110))
        for number in range(1, 17)
    )
    # A few traces in turn, so that making the file is quick.
    traces = [
        {
            column: [0.5 * row if column == "t_s" else dice.uniform(0, 200) for row in range(260)]
            for column in TRACE_COLUMNS
        }
        for _ in range(5)
    ]
    for number in range(count):
        on_time = dice.randint(0, 16)
        yield replace(
            RUN,
            student=STUDENTS[number % 4],
            maneuver=MANEUVERS[number // 4 % 25],
            started=RUN.started + timedelta(minutes=7 * number),
            moments=moments,
            trace=traces[number % 5],
            taps=tuple(Tap(moment.time_s + 0.1) for moment in moments),
            ended="finished",
            reached_s=130.0,
            score=Score(16, 16, on_time, dice.random()),
        )


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("full") / "logbook.sqlite3"
    with Logbook(path) as log:
        log._db.execute("PRAGMA synchronous = OFF")
        log.add(many(RUNS))
    print(f"\n{RUNS} runs, {path.stat().st_size / 1e6:.0f} MB")
    return path


def test_a_logbook_of_100_000_runs_answers_at_once(full: Path) -> None:
    took = {"open": quickest(lambda: Logbook(full).close())}
    with Logbook(full) as log:
        last = log.last()
        assert last is not None
        took["past of one student"] = quickest(lambda: log.past("Ada"))
        took["past of everybody"] = quickest(lambda: log.past())
        took["last"] = quickest(log.last)
        took["earlier"] = quickest(lambda: log.earlier(last))
        took["students"] = quickest(log.students)
        took["unscored"] = quickest(log.unscored)
        past = log.past()
        assert len(past) == 100
        assert all(one.runs == RUNS // 100 and len(one.recent) == 30 for one in past)
        number = log.begin(replace(RUN, student="Ada"))
        took["tap"] = quickest(lambda: log.tap(number, Tap(1.0)))
        took["reached"] = quickest(lambda: log.reached(number, 1.0))
        log.end(number, "finished", 1.0)
    environment = {**os.environ, "COACH_HOME": str(full.parent)}
    for words in (["logbook"], ["next", "--student", "Ada"]):
        program = [sys.executable, "-m", "coach", *words]
        run = partial(subprocess.run, program, env=environment, capture_output=True, check=True)
        # The first of them flies every maneuver once, to know how long each takes.
        took[" ".join(words)] = quickest(run)
    for what, seconds in took.items():
        print(f"{1000 * seconds:8.1f} ms  {what}")
    command = [sys.executable, "-c", PAST, str(full)]
    began = time.perf_counter()
    inside, _ = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    print(
        f"{1000 * (time.perf_counter() - began):8.1f} ms  a process of its own that opens it and "
        f"reads one student's past, of which {1000 * float(inside):.1f} ms are the coach's"
    )
    assert took["logbook"] < 0.5
    assert took["next --student Ada"] < 0.5
    assert took["past of one student"] < 0.3
    assert took["past of everybody"] < 0.3
    assert all(took[what] < 0.05 for what in ("open", "last", "earlier", "students", "unscored"))


def test_5_000_runs_go_out_in_again_and_away_within_seconds(tmp_path: Path) -> None:
    took = {}
    with Logbook(tmp_path / "one.sqlite3") as one, Logbook(tmp_path / "two.sqlite3") as two:
        one.add(many(5000))
        table, everything = tmp_path / "runs.csv", tmp_path / "runs.json"
        jobs: dict[str, Callable[[], object]] = {
            "export .csv": lambda: export(one, table),
            "export .json": lambda: export(one, everything),
            "import": lambda: merge(two, everything),
            "import again": lambda: merge(two, everything),
            "forget a quarter": lambda: two.forget("Dov"),
        }
        for what, job in jobs.items():
            began = time.perf_counter()
            job()
            took[what] = time.perf_counter() - began
            print(f"{took[what]:8.1f} s  {what}")
        assert len(two.past()) == 75
    assert all(seconds < 30.0 for seconds in took.values())


@pytest.mark.skipif(os.name == "nt", reason="a kill as hard as this is a POSIX signal")
def test_200_coaches_killed_at_random_moments_lose_nothing_they_told(tmp_path: Path) -> None:
    dice = random.Random(5)
    path = tmp_path / "logbook.sqlite3"
    for _ in range(200):
        keeps_what_was_told_when_killed(path, dice.randint(1, 30), dice.uniform(0.0, 0.02))
    with Logbook(path) as log:
        assert len(log.runs(1000)) == 200
        assert log._db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def quickest(job: Callable[[], object]) -> float:
    took = []
    for _ in range(5):
        began = time.perf_counter()
        job()
        took.append(time.perf_counter() - began)
    return min(took)
