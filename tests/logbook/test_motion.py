"""Promises about what hands flew: kept as it came, in few bytes, and never at a run's cost."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from coach.hand.grip import EASY, Grip
from coach.hand.motion import Motion
from coach.logbook.exchange import Merged, export, merge
from coach.logbook.logbook import Logbook
from coach.logbook.rescue import readable
from coach.logbook.run import Run
from coach.problems import Problem
from tests.logbook.examples import RUN, of_version

RATE_HZ = 60.0


def flown(from_s: float, to_s: float, seed: int = 1) -> Motion:
    """What an unsteady hand flew, to the thousandth and the hundredth that are kept."""
    times = np.arange(round(from_s * RATE_HZ), round(to_s * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(seed).normal(0.0, 1.0, (2, len(times)))
    pitch, bank = 15.0 * np.sin(times / 4.0) + noise[0], 30.0 * np.cos(times / 8.0) + noise[1]
    time_s, pitch_deg, bank_deg = (
        tuple(np.round(one, decimals).tolist())
        for one, decimals in ((times, 3), (pitch, 2), (bank, 2))
    )
    return Motion(time_s, pitch_deg, bank_deg, 0.03)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


def test_what_was_flown_is_read_as_it_was_in_whatever_order_it_came(path: Path) -> None:
    whole = flown(-1.0, 5.0)
    parts = [flown(at, at + 1.0, seed=1) for at in range(-1, 5)]
    with Logbook(path) as log:
        number = log.begin(RUN)
        for part in (*parts[3:], *parts[:3], parts[2]):
            log.motion(number, part)
    with Logbook(path) as log:
        kept = log.run(number)
    assert kept.motion == Motion().joined(*parts)
    assert len(kept.motion) == len(whole) and kept.motion.doubt_s == 0.03
    # A run that is cut off reaches as far as the last that was flown.
    assert kept.reached_s == whole.time_s[-1] and kept.ended == "interrupted"


def test_it_belongs_to_its_run_alone_and_goes_with_it(path: Path) -> None:
    with Logbook(path) as log:
        ada = log.begin(RUN)
        log.motion(ada, flown(0.0, 2.0))
        bo = log.begin_too(ada, "Bo")
        assert bo is not None and log.run(bo).motion == Motion()
        log.motion(bo, flown(0.0, 3.0))
        with pytest.raises(Problem):
            log.motion(99, flown(0.0, 2.0))
        assert log.withdraw(bo, 5.0)
        log.forget("Ada")
        assert log._rows("SELECT count(*) FROM motions")[0][0] == 0


def test_a_minute_of_a_hand_takes_20_kb_of_the_file_at_most(path: Path) -> None:
    minutes = 4

    def size(log: Logbook) -> int:
        log._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return path.stat().st_size

    with Logbook(path) as log:
        number = log.begin(RUN)
        before = size(log)
        for second in range(60 * minutes):
            log.motion(number, flown(second, second + 1.0, seed=second))
        assert size(log) - before <= 20_000 * minutes
        assert len(log.run(number).motion) == 60 * minutes * RATE_HZ


WRITER = """
import sys
from pathlib import Path
from coach.logbook.logbook import Logbook
from tests.logbook.examples import RUN
from tests.logbook.test_motion import flown
with Logbook(Path(sys.argv[1])) as log:
    number = log.begin(RUN)
    for second in range(100000):
        log.motion(number, flown(second, second + 1.0, seed=second))
        print(second, flush=True)
"""


def test_a_coach_that_is_killed_has_kept_all_that_it_was_told(path: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    told = [child.stdout.readline() for _ in range(7)]
    child.send_signal(signal.SIGKILL)
    last = int([*told, *child.stdout.read().split("\n")[:-1]][-1])
    child.wait()
    with Logbook(path) as log:
        (kept,) = log.runs()
        parts = round(len(kept.motion) / RATE_HZ)
        assert last + 1 <= parts <= last + 2
        assert kept.motion == Motion().joined(*(flown(at, at + 1.0, at) for at in range(parts)))


def test_on_a_full_disk_what_was_told_is_kept_and_the_rest_is_one_sentence(path: Path) -> None:
    with Logbook(path) as log:
        number = log.begin(RUN)
        pages = log._db.execute("PRAGMA page_count").fetchone()[0]
        log._db.execute(f"PRAGMA max_page_count = {pages + 2}")
        told = 0
        with pytest.raises(Problem, match=r"cannot be used: the disk is full\.$"):
            for told in range(1000):
                log.motion(number, flown(told, told + 1.0, told))
    with Logbook(path) as log:
        assert log.run(number).motion.time_s[-1] == flown(told - 1, told).time_s[-1]
        log.motion(number, flown(told, told + 1.0, told))


@pytest.mark.parametrize(
    "damage",
    ["x''", "x'00'", "'text'", "7", "substr(part, 1, length(part) - 3)", "zeroblob(1000000)"],
)
def test_a_damaged_part_costs_that_part_and_not_the_run(path: Path, damage: str) -> None:
    parts = [flown(at, at + 1.0, at) for at in range(4)]
    with Logbook(path) as log:
        number = log.begin(RUN)
        for part in parts:
            log.motion(number, part)
    with sqlite3.connect(path) as db:
        db.execute(f"UPDATE motions SET part = {damage} WHERE rowid = 2")
    db.close()
    with Logbook(path) as log:
        assert log.run(number).motion == Motion().joined(*parts[:1], *parts[2:])
        assert [run.id for run in log.every()] == [number] and log.damage == ""


def test_whatever_page_is_damaged_no_run_is_lost_for_what_its_hand_flew(path: Path) -> None:
    with Logbook(path) as log:
        for day in range(3):
            run = replace(RUN, started=RUN.started + timedelta(days=day), ended="finished")
            number = log.begin(run)
            for second in range(40):
                log.motion(number, flown(second, second + 1.0, second))
        whole = {run.id: run for run in log.every()}
        size = log._db.execute("PRAGMA page_size").fetchone()[0]
        tables = "SELECT name, rootpage FROM sqlite_master WHERE name IN ('runs', 'motions')"
        roots = {name: page - 1 for name, page in log._db.execute(tables)}
        log._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    content = path.read_bytes()
    pages = range(len(content) // size)
    assert len(pages) > 20
    noise = np.random.default_rng(5)
    kept = []
    for page in pages:
        path.write_bytes(content[: page * size] + noise.bytes(size) + content[(page + 1) * size :])
        found = list(readable(path))
        for run in found:
            before = whole[run.id]
            flew, was = (
                set(zip(one.motion.time_s, one.motion.pitch_deg, strict=True))
                for one in (run, before)
            )
            assert flew <= was
            assert replace(run, motion=before.motion, reached_s=before.reached_s) == before
        if page not in (0, roots["runs"]):
            assert len(found) == 3, page
        if page not in (0, roots["runs"], roots["motions"]):
            kept.append(sum(len(run.motion) for run in found) / (3 * 40 * RATE_HZ))
    assert min(kept) > 0.8


@pytest.mark.parametrize("version", [2, 3, 4, 5])
def test_an_older_logbook_opens_and_keeps_motion_and_grips_from_now_on(
    path: Path, version: int
) -> None:
    with Logbook(path) as log:
        before = log.begin(RUN)
        log.end(before, "finished", 20.0)
    of_version(path, version)
    with Logbook(path) as log:
        assert log.run(before).motion == Motion()
        log.motion(before, flown(0.0, 1.0))
        log.keep_grip("Ada", "a phone", EASY)
    with Logbook(path) as log:
        assert log.run(before).motion == flown(0.0, 1.0)
        assert log.grip("Ada", "a phone") == EASY


def test_an_export_has_all_of_it_and_brings_the_same_run_back(path: Path, tmp_path: Path) -> None:
    export_file = tmp_path / "runs.json"

    def the_run(log: Logbook) -> Run:
        (run,) = log.every()
        return replace(run, id=None)

    with Logbook(path) as log:
        number = log.begin(RUN)
        for second in range(5):
            log.motion(number, flown(second, second + 1.0, second))
        export(log, export_file)
        kept = the_run(log)
    with Logbook(tmp_path / "another.sqlite3") as other:
        assert merge(other, export_file) == Merged(1, 0)
        assert the_run(other) == kept
        # As one part, not as five.
        assert other._rows("SELECT count(*) FROM motions")[0][0] == 1


def grip(turned_deg: float) -> Grip:
    sine, cosine = np.sin(np.radians(turned_deg)), np.cos(np.radians(turned_deg))
    return Grip((0.0, float(cosine), float(sine)), (0.0, float(-sine), float(cosine)), 1.25)


def test_a_grip_belongs_to_a_student_and_a_phone_and_the_latest_counts(path: Path) -> None:
    with Logbook(path) as log:
        assert log.grip("Ada", "phone") is None
        log.keep_grip("Ada", "phone", grip(30.0))
        log.keep_grip("Ada", "another", EASY)
        log.keep_grip("", "phone", grip(50.0))
        log.keep_grip("Ada", "phone", grip(40.0))
    with Logbook(path) as log:
        assert log.grip("Ada", "phone") == grip(40.0)
        assert log.grip("Ada", "another") == EASY
        assert log.grip("Bo", "phone") is None
        assert log.holds("Ada") == (0, 0, 2)
        log.forget("Ada")
        assert log.grip("Ada", "phone") is None and log.grip("", "phone") == grip(50.0)


def test_a_student_has_twenty_phones_at_most_and_the_oldest_go_first(path: Path) -> None:
    with Logbook(path) as log:
        log.keep_grip("Bo", "phone 0", EASY)
        for number in range(30):
            log.keep_grip("Ada", f"phone {number}", EASY)
            log.keep_grip("Ada", "phone 0", grip(number))
        assert log.holds("Ada") == (0, 0, 20)
        assert log.grip("Ada", "phone 0") == grip(29) and log.grip("Ada", "phone 29") == EASY
        assert log.grip("Ada", "phone 9") is None and log.grip("Bo", "phone 0") == EASY


@pytest.mark.parametrize(
    "found",
    [
        *("''", "'{}'", "x'00'", "7", "'[[[[['"),
        """'{"nose": [0, 1], "top": [0, 0, 1], "quality_deg": null}'""",
        """'{"nose": [0, 2, 0], "top": [0, 0, 1], "quality_deg": null}'""",
        """'{"nose": [0, 0, 1], "top": [0, 0, 1], "quality_deg": null}'""",
        """'{"nose": [0, NaN, 0], "top": [0, 0, 1], "quality_deg": null}'""",
        """'{"nose": [0, 1, 0], "top": [0, 0, 1], "quality_deg": "good"}'""",
    ],
)
def test_a_grip_that_is_damaged_is_shown_anew(path: Path, found: str) -> None:
    with Logbook(path) as log:
        log.keep_grip("Ada", "phone", EASY)
    with sqlite3.connect(path) as db:
        db.execute(f"UPDATE OR IGNORE grips SET grip = {found}")
    db.close()
    with Logbook(path) as log:
        assert log.grip("Ada", "phone") is None
