"""Promises for years: old files, students who leave, full disks, and coaches in each other's way."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from coach.debrief.gauging import score as judged_now
from coach.logbook.calibration import Calibration
from coach.logbook.file import _ready, alone
from coach.logbook.logbook import Logbook
from coach.logbook.run import Score
from coach.practice.judging import pasts
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.logbook.examples import RUN, TAPS, TOLERANCES, UNHEARD, of_version

HERE = Path(__file__).parent
FOUND = datetime(2031, 5, 3, 18, 0, tzinfo=timezone.utc)
CALIBRATION = Calibration("Ada", "loudspeaker", 0.08, 0.071, 0.089, FOUND)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


def test_a_logbook_of_version_1_opens_and_keeps_its_runs(path: Path) -> None:
    # Written out by the coach of that version, three runs.
    with sqlite3.connect(path) as db:
        db.executescript((HERE / "version_1.sql").read_text())
    db.close()
    with Logbook(path) as log:
        assert log.note.startswith("Run 3, Lazy eight, begun 2031-05-04 09:30, was interrupted")
        last, _, first = log.runs()
        assert first.taps == (Tap(10.4), Tap(17.1))
        assert (first.ended, first.reached_s, first.score) == ("finished", 20.5, None)
        assert [moment.name for moment in first.moments] == ["45", "90"]
        assert (last.ended, last.reached_s) == ("interrupted", 12.6)
        assert [run.id for run in log.earlier(last)] == [1]
        assert [run.id for run in log.unscored()] == [3, 2, 1]
        log.tap(3, TAPS[1])
        log.score(1, Score(2, 2, 2, 0.2))
        assert log.run(1).score == Score(2, 2, 2, 0.2)


def test_a_logbook_of_version_2_opens_with_its_taps_and_keeps_what_is_said_from_now_on(
    path: Path,
) -> None:
    with Logbook(path) as log:
        number = log.begin(replace(RUN, taps=(Tap(10.4), Tap(17.9, 85.0, "voice", 1.25))))
    of_version(path, 2)
    with Logbook(path) as log:
        assert log.run(number).taps == (Tap(10.4), Tap(17.9, 85.0, "voice", 1.25))
        log.tap(number, TAPS[2])
        assert log.run(number).taps[-1] == TAPS[2]


@pytest.mark.parametrize("version", [2, 3, 4])
def test_an_older_logbook_opens_and_keeps_from_now_on_what_was_not_perceived(
    path: Path, version: int
) -> None:
    with Logbook(path) as log:
        number = log.begin(replace(RUN, taps=TAPS, unheard=UNHEARD, tolerances=TOLERANCES))
    of_version(path, version)
    with Logbook(path) as log:
        run = log.run(number)
        assert (run.unheard, run.tolerances, len(run.taps)) == ((), (), len(TAPS))
        log.unheard(number, UNHEARD[0])
        also = log.begin(replace(RUN, student="Bo", unheard=UNHEARD, tolerances=TOLERANCES))
        too = log.begin_too(also, "Cy")
    with Logbook(path) as log:
        assert log.run(number).unheard == UNHEARD[:1]
        assert (log.run(also).unheard, log.run(also).tolerances) == (UNHEARD, TOLERANCES)
        # Who flies along is judged by the same limits, and has an own voice.
        assert too is not None and log.run(too).tolerances == TOLERANCES
        assert log.run(too).unheard == ()
        log.forget("Bo")
        assert log._db.execute("SELECT count(*) FROM unheard").fetchone()[0] == 1


@pytest.mark.parametrize("version", [2, 3, 4])
def test_the_scores_of_an_older_logbook_are_judged_anew(path: Path, version: int) -> None:
    with Logbook(path) as log:
        number = log.begin(RUN)
        log.end(number, "finished", 20.0)
        log.score(number, Score(2, 1, 1, 0.125))
    of_version(path, version)
    with Logbook(path) as log:
        assert log.run(number).score is None
        assert [run.id for run in log.unscored()] == [number]
        (line,) = pasts(log, None)[0].recent
        assert line.score == judged_now(log.run(number)) != Score(2, 1, 1, 0.125)
        assert log.unscored() == ()
    with Logbook(path) as log:  # and once only
        assert log.run(number).score == line.score


def test_a_score_is_kept_until_the_run_goes_on(path: Path) -> None:
    score = Score(2, 1, 1, 0.125)
    with Logbook(path) as log:
        number = log.begin(RUN)
        log.score(number, score)
        assert log.run(number).score == score
        assert log.unscored() == ()
        log.reached(number, 12.0)
        assert log.unscored() == (log.run(number),)
        log.score(number, score)
        log.end(number, "finished", 20.0)
        assert log.unscored() == (log.run(number),)
        log.score(number, replace(score, tapped=0, on_time=0, absolute_error_s=None))
        assert log.run(number).score == Score(2, 0, 0, None)


def test_a_run_that_another_coach_is_flying_is_not_ended_by_looking_at_it(path: Path) -> None:
    with Logbook(path) as flying:
        number = flying.begin(RUN)
        with Logbook(path) as looking:
            assert looking.note.startswith("Run 1, Lazy eight, begun 2031-05-04 07:30, was inter")
        flying.reached(number, 6.0)
        with Logbook(path) as looking:
            assert looking.note.endswith("still being flown; it is kept up to 6 s with 0 taps.")
        flying.end(number, "finished", 20.0)
    with Logbook(path) as log:
        assert log.note == ""
        assert log.run(number).ended == "finished"


def test_the_past_tells_each_students_runs_of_each_maneuver(path: Path) -> None:
    def run(hour: int, share: int, **other: object) -> object:
        values = {"ended": "finished", "pace": 1.0, "score": Score(4, 4, share, 0.3), **other}
        return replace(RUN, started=RUN.started + timedelta(hours=hour), **values)  # type: ignore[arg-type]

    better = Score(4, 4, 3, 0.1)
    runs = [
        run(0, 4, pace=0.5),
        run(1, 3),
        run(2, 3, score=better, title="Lazy eight, left"),
        run(3, 4, ended="stopped"),
        run(4, 0, score=Score(4, 0, 0, None)),
        run(5, 1, student="Bo", maneuver="chandelle", title="Chandelle", ended="interrupted"),
    ]
    with Logbook(path) as log:
        assert log.past() == ()
        log.add(runs[3:])  # type: ignore[arg-type]
        log.add(runs[:3])  # type: ignore[arg-type]
        ada, bo = log.past()
        assert log.past("Ada") == (ada,)
        assert log.past("Nobody") == ()
        assert log.students() == ("Ada", "Bo")
    assert (ada.student, ada.maneuver, ada.runs) == ("Ada", "lazy-eight", 5)
    assert ada.title == "Lazy eight"
    assert [line.started.hour for line in ada.recent] == [11, 10, 9, 8, 7]
    assert [line.ended for line in ada.recent] == ["finished", "stopped", *["finished"] * 3]
    assert ada.best is not None and ada.best.score == better
    assert (bo.title, bo.best, bo.recent[0].ended) == ("Chandelle", None, "interrupted")


def test_the_past_is_read_without_the_moments_and_traces(path: Path) -> None:
    with Logbook(path) as log:
        log.add([replace(RUN, ended="finished", score=Score(2, 2, 1, 0.3))])
        asked: list[str] = []
        log._db.set_trace_callback(asked.append)
        log.past("Ada")
        log._db.set_trace_callback(None)
        plans = [
            " ".join(step["detail"] for step in log._db.execute(f"EXPLAIN QUERY PLAN {query}"))
            for query in asked
        ]
    assert len(plans) == 4
    by_number = [plan for plan in plans if "COVERING INDEX runs_at_a_glance" not in plan]
    assert by_number == ["SEARCH runs USING INTEGER PRIMARY KEY (rowid=?)"]  # the title
    assert not any("SCAN runs" in plan.replace("SCAN runs USING COVERING", "") for plan in plans)


def test_a_calibration_belongs_to_a_student_and_a_device_and_the_latest_counts(path: Path) -> None:
    with Logbook(path) as log:
        assert log.calibration("Ada", "loudspeaker") is None
        log.calibrate(CALIBRATION)
        log.calibrate(replace(CALIBRATION, device="headset", offset_s=0.25))
        log.calibrate(replace(CALIBRATION, offset_s=0.09))
        assert log.calibration("Ada", "loudspeaker") == replace(CALIBRATION, offset_s=0.09)
        assert log.calibration("Bo", "loudspeaker") is None


def test_nothing_of_a_forgotten_student_can_be_read_in_the_files(path: Path) -> None:
    # Compressed moments and traces cannot be searched for, so the day carries the mark as well.
    ada = replace(RUN, student="Ada of the meadow", day={"note": "hers alone"}, taps=TAPS)
    with Logbook(path) as log, Logbook(path) as other:
        log._db.execute("PRAGMA secure_delete = OFF")  # which some builds of SQLite have on
        other._db.execute("PRAGMA secure_delete = OFF")
        for number in range(30):
            for student in (ada, replace(RUN, student="Bo")):
                run = log.begin(replace(student, started=RUN.started + timedelta(hours=number)))
                log.reached(run, 5.0)
                log.end(run, "finished", 20.0)
        log.calibrate(replace(CALIBRATION, student="Ada of the meadow"))
        kept = [run for run in log.runs(100) if run.student == "Bo"]
        assert written(path, b"of the meadow") and written(path, b"hers alone")
        assert other.forget("Ada of the meadow") == 30
        assert not written(path, b"of the meadow")
        assert not written(path, b"hers alone")
        assert list(log.runs(100)) == kept
        assert other.calibration("Ada of the meadow", "loudspeaker") is None
        assert log._db.execute("SELECT count(*) FROM taps").fetchone()[0] == 0
        with pytest.raises(Problem, match=r"nothing of a student 'Boo'; choose from Bo\."):
            log.forget("Boo")


def written(path: Path, mark: bytes) -> bool:
    return any(mark in file.read_bytes() for file in path.parent.iterdir())


def test_what_an_earlier_change_left_behind_in_the_file_goes_too(path: Path) -> None:
    with Logbook(path) as log:
        log.begin(replace(RUN, student="Ada of the meadow", day={"note": "hers alone" * 500}))
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA secure_delete = OFF")
        db.execute("UPDATE runs SET day = '{}'")
    db.close()
    assert written(path, b"hers alone")
    with Logbook(path) as log:
        log.forget("Ada of the meadow")
        assert not written(path, b"hers alone")


def test_forgetting_while_another_coach_reads_says_that_the_file_still_has_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.logbook.file.BUSY_S", 0.05)
    with Logbook(path) as log, Logbook(path) as other:
        for _ in range(3):
            log.begin(replace(RUN, student="Ada of the meadow"))
        reading = other.every()
        next(reading)
        with pytest.raises(Problem, match="'Ada of the meadow' is removed, but another coach"):
            log.forget("Ada of the meadow")
        assert log.runs() == ()
        del reading
    assert not written(path, b"of the meadow")


def test_on_a_full_disk_every_told_tap_is_kept_and_the_rest_is_one_sentence(path: Path) -> None:
    with Logbook(path) as log:
        number = log.begin(RUN)
        pages = log._db.execute("PRAGMA page_count").fetchone()[0]
        log._db.execute(f"PRAGMA max_page_count = {pages + 1}")
        told = 0
        with pytest.raises(Problem, match=r"cannot be used: the disk is full\.$"):
            for told in range(100_000):
                log.tap(number, Tap(float(told)))
        with pytest.raises(Problem, match="the disk is full"):
            log.add([replace(RUN, student="Bo", taps=TAPS * 500)])
        assert [run.id for run in log.runs()] == [number]
    with Logbook(path) as log:
        assert log.run(number).taps_s == tuple(map(float, range(told)))
        log.tap(number, Tap(told + 1.0))


LIMITED = """
import resource, signal, sys
from pathlib import Path
from coach.logbook.logbook import Logbook
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.logbook.examples import RUN
limit = int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
told = 0
try:
    with Logbook(Path(sys.argv[1])) as log:
        number = log.begin(RUN)
        for told in range(2000):
            log.tap(number, Tap(float(told)))
except Problem as problem:
    print(told, problem)
"""


@pytest.mark.skipif(os.name == "nt", reason="a file's size is limited on POSIX only")
@pytest.mark.parametrize("limit_kb", [0, 4, 30, 100, 300])
def test_wherever_the_disk_fills_up_the_logbook_stays_whole(path: Path, limit_kb: int) -> None:
    with Logbook(path) as log:
        log.end(log.begin(RUN), "finished", 20.0)
    command = [sys.executable, "-c", LIMITED, str(path), str(limit_kb * 1024)]
    done = subprocess.run(
        command, cwd=HERE.parents[1], capture_output=True, text=True, check=True, timeout=60
    )
    told, sentence = done.stdout.strip().split(" ", 1)
    assert "the logbook cannot be used: " in sentence and "\n" not in sentence
    with Logbook(path) as log:
        assert "set aside" not in log.note
        taps = [run.taps_s for run in log.runs()]
        assert taps[-1] == ()
        if len(taps) == 2:
            assert taps[0] == tuple(map(float, range(int(told))))
        assert log._db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


OPENER = """
import sys
from pathlib import Path
from coach.logbook import file
from coach.logbook.logbook import Logbook
from tests.logbook.examples import RUN
file.BUSY_S = 60.0  # one after the other sets a file aside and makes another
print("here", flush=True)
with Logbook(Path(sys.argv[1])) as log:
    log.end(log.begin(RUN), "finished", 20.0)
    print(log.note)
"""


def opening(path: Path) -> subprocess.Popen[str]:
    """A coach that is about to open a logbook."""
    coach = subprocess.Popen(
        [sys.executable, "-c", OPENER, str(path)],
        cwd=HERE.parents[1],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert coach.stdout is not None and coach.stdout.readline() == "here\n"
    return coach


def test_coaches_that_find_a_damaged_file_at_once_set_it_aside_once(path: Path) -> None:
    path.write_text("Dear diary, today I flew.\n" * 400)
    coaches = [opening(path) for _ in range(5)]
    notes = [coach.communicate()[0].strip() for coach in coaches]
    assert sum("was set aside as logbook-set-aside-1.sqlite3" in note for note in notes) == 1
    with Logbook(path) as log:
        assert len(log.runs()) == 5
    files = sorted(entry.name for entry in path.parent.iterdir())
    assert files == ["logbook-set-aside-1.sqlite3", "logbook.lock", "logbook.sqlite3"]


def test_a_coach_does_not_judge_a_file_that_another_is_just_setting_aside(path: Path) -> None:
    path.write_text("Dear diary, today I flew.\n" * 400)
    with alone(path.with_suffix(".lock"), 10.0):
        coach = opening(path)
        time.sleep(0.3)
        path.unlink()  # and the other coach begins a new one
        _ready(path)[0].close()
    assert coach.communicate()[0].strip() == ""
    with Logbook(path) as log:
        assert len(log.runs()) == 1
