"""Promises of the logbook: what was told is there afterwards, whatever happened in between."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from coach.logbook import file
from coach.logbook.logbook import Logbook
from coach.logbook.schema import MIGRATIONS
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.logbook.examples import RUN, TAPS, keeps_what_was_told_when_killed

WRITER = """
import sys
from pathlib import Path
from coach.logbook import file
from coach.logbook.logbook import Logbook
from coach.taps.tap import Tap
from tests.logbook.examples import RUN
file.BUSY_S = 200.0  # four who write without a pause keep the file locked nearly always
with Logbook(Path(sys.argv[1])) as log:
    for _ in range(20):
        number = log.begin(RUN)
        for tap in range(10):
            log.tap(number, Tap(tap + number / 1000))
        log.end(number, "finished", 10.0)
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "logbook.sqlite3"


def test_a_run_reads_back_as_it_was_told(path: Path) -> None:
    with Logbook(path) as log:
        number = log.begin(RUN)
        for tap in TAPS:
            log.tap(number, tap)
        log.reached(number, 17.0)
        log.end(number, "stopped", 18.25)
    with Logbook(path) as log:
        run = log.run(number)
        assert log.last() == run
    rounded = {**RUN.trace, "ias_kt": [99.99, 98.0]}
    assert run == replace(
        RUN, id=number, trace=rounded, taps=TAPS, ended="stopped", reached_s=18.25
    )
    assert run.started.utcoffset() == timedelta(hours=2)


def test_a_run_that_never_ended_is_interrupted_and_reached_its_last_word_or_tap(path: Path) -> None:
    with Logbook(path) as log:
        number = log.begin(RUN)
        assert (log.run(number).ended, log.run(number).reached_s) == ("interrupted", 0.0)
        log.reached(number, 12.0)
        assert log.run(number).reached_s == 12.0
        log.tap(number, Tap(12.6))
        assert log.run(number).reached_s == 12.6


def test_an_attempt_started_over_keeps_its_taps_to_itself(path: Path) -> None:
    with Logbook(path) as log:
        first = log.begin(RUN)
        log.tap(first, Tap(10.0))
        log.end(first, "stopped", 11.0)
        second = log.begin(RUN)
        log.tap(second, Tap(10.6))
        assert [run.taps_s for run in log.runs()] == [(10.6,), (10.0,)]


def test_runs_come_newest_first_and_earlier_ones_are_of_the_same_maneuver_and_student(
    path: Path,
) -> None:
    with Logbook(path) as log:
        assert log.last() is None
        numbers = [log.begin(run) for run in (RUN, replace(RUN, student="Bo"), RUN, RUN)]
        log.begin(replace(RUN, maneuver="chandelle"))
        assert [run.id for run in log.runs(2)] == [5, 4]
        assert [run.id for run in log.earlier(log.run(numbers[3]))] == [3, 1]


def test_an_unknown_run_is_refused_saying_which_there_are(path: Path) -> None:
    with Logbook(path) as log:
        with pytest.raises(Problem, match=r"Run 7 is not in the logbook; it is empty\."):
            log.run(7)
        log.begin(RUN)
        with pytest.raises(Problem, match="its runs are numbered 1 to 1"):
            log.run(7)


def test_the_students_own_folder_is_the_usual_place(home: Path) -> None:
    with Logbook() as log:
        log.begin(RUN)
    assert (home / "logbook.sqlite3").is_file()


def test_a_start_without_a_time_zone_and_an_unknown_ending_are_refused(path: Path) -> None:
    with Logbook(path) as log:
        with pytest.raises(Problem, match="time zone"):
            log.begin(replace(RUN, started=datetime(2031, 5, 4)))
        number = log.begin(RUN)
        with pytest.raises(Problem, match="one of finished, stopped, interrupted"):
            log.end(number, "crashed", 1.0)  # type: ignore[arg-type]
        with pytest.raises(Problem, match="cannot be used"):
            log.tap(99, Tap(1.0))


@pytest.mark.skipif(os.name == "nt", reason="a kill as hard as this is a POSIX signal")
@pytest.mark.parametrize("taps", range(1, 41, 3))
def test_a_coach_killed_in_the_middle_loses_no_tap_that_was_told(path: Path, taps: int) -> None:
    keeps_what_was_told_when_killed(path, taps, taps / 10_000)


def test_coaches_at_once_make_one_logbook_and_mix_nothing(path: Path) -> None:
    root = Path(__file__).parents[2]
    command = [sys.executable, "-c", WRITER, str(path)]

    def write(_: int) -> subprocess.CompletedProcess[str]:
        return subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)

    with ThreadPoolExecutor(4) as pool:
        for done in pool.map(write, range(4)):
            assert done.returncode == 0, done.stderr
    with Logbook(path) as log:
        assert log.note == ""
        runs = log.runs(1000)
    assert len(runs) == 80
    for run in runs:
        assert run.id is not None
        assert run.taps_s == tuple(tap + run.id / 1000 for tap in range(10))
        assert run.ended == "finished"
    assert sorted(entry.name for entry in path.parent.iterdir()) == ["logbook.lock", path.name]


def test_a_run_that_ends_while_another_coach_opens_the_logbook_stays_ended(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    together = file.together
    with Logbook(path) as flying:
        number = flying.begin(RUN)

        def a_moment_later(db: sqlite3.Connection) -> AbstractContextManager[None]:
            monkeypatch.setattr(file, "together", together)
            flying.end(number, "finished", 17.0)
            return together(db)

        monkeypatch.setattr(file, "together", a_moment_later)
        with Logbook(path) as other:
            assert other.run(number).ended == "finished"


def test_coaches_that_make_the_logbook_at_the_same_moment_agree_on_it(tmp_path: Path) -> None:
    opener = (
        "import sys; from pathlib import Path; from coach.logbook.logbook import Logbook; "
        "from coach.logbook import file; file.BUSY_S = 60.0; log = Logbook(Path(sys.argv[1])); print(log.note)"
    )
    root = Path(__file__).parents[2]
    for number in range(4):
        command = [sys.executable, "-c", opener, str(tmp_path / str(number) / "logbook.sqlite3")]
        opened = [
            subprocess.Popen(command, cwd=root, stdout=subprocess.PIPE, text=True) for _ in range(6)
        ]
        assert [coach.communicate()[0].strip() for coach in opened] == [""] * 6
        assert not any(coach.returncode for coach in opened)


def truncated(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-5000])


def shortened_to_nearly_nothing(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:50])


def overwritten_in_the_middle(path: Path) -> None:
    content = path.read_bytes()
    path.write_bytes(content[:4096] + b"\xa5" * 8192 + content[12288:])


def replaced_by_text(path: Path) -> None:
    path.write_text("Dear diary, today I flew.\n" * 400)


def replaced_by_another_database(path: Path) -> None:
    path.unlink()
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()


@pytest.mark.parametrize(
    "harm",
    [
        truncated,
        shortened_to_nearly_nothing,
        overwritten_in_the_middle,
        replaced_by_text,
        replaced_by_another_database,
    ],
)
def test_a_file_that_is_no_whole_logbook_is_set_aside_unchanged(
    path: Path, harm: Callable[[Path], None]
) -> None:
    for attempt in (1, 2):
        with Logbook(path) as log:
            for _ in range(10):
                log.begin(RUN)
        harm(path)
        content = path.read_bytes()
        with Logbook(path) as log:
            aside = path.with_name(f"logbook-set-aside-{attempt}.sqlite3")
            assert log.note == (
                f"{path} was damaged or no logbook; it was set aside as {aside.name} "
                "and a new logbook begun."
            )
            assert log.last() is None
            log.end(log.begin(RUN), "finished", 20.0)
        assert aside.read_bytes() == content
        with Logbook(path) as log:
            assert log.note == ""
            assert len(log.runs()) == 1
        path.unlink()


def test_an_empty_file_becomes_a_logbook(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with Logbook(path) as log:
        assert log.note == ""
        log.begin(RUN)


def test_a_logbook_of_a_later_coach_is_left_alone(path: Path) -> None:
    Logbook(path).close()
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    db.close()
    content = path.read_bytes()
    with pytest.raises(Problem, match="later version of the coach wrote this logbook"):
        Logbook(path)
    assert path.read_bytes() == content


def test_a_place_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(Problem, match="the logbook cannot be used: "):
        Logbook(tmp_path / "file" / "logbook.sqlite3")
    with pytest.raises(Problem, match="cannot be used: its folder must be there to write in"):
        folder = tmp_path / "logbook.sqlite3"
        folder.mkdir()
        Logbook(folder)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_permission_is_one_sentence(tmp_path: Path) -> None:
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(Problem, match="the logbook cannot be used"):
            Logbook(tmp_path / "logbook.sqlite3")
    finally:
        tmp_path.chmod(stat.S_IRWXU)


def test_what_is_written_while_another_coach_reads_and_writes_waits_its_turn(path: Path) -> None:
    with Logbook(path) as one, Logbook(path) as other:
        first, second = one.begin(RUN), other.begin(RUN)
        for tick in range(50):
            one.tap(first, Tap(float(tick)))
            other.tap(second, Tap(tick + 0.5))
        assert one.run(second).taps_s == tuple(tick + 0.5 for tick in range(50))
        assert other.run(first).taps_s == tuple(float(tick) for tick in range(50))
