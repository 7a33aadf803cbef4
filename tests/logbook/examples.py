"""A run to write into logbooks, and a coach that is killed while it writes one."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import time
from datetime import datetime, timedelta, timezone
from pathlib import Path

from coach.flight.moment import Moment
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.logbook.schema import MIGRATIONS
from coach.script.tolerance import Tolerance
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard

MOMENTS = tuple(
    Moment(1, name, time_s, float(name), 30.0, 9.87654321, 15.0, 82.0, 3100.0, 3.0, 1.1, 25.0, 0.4)
    for name, time_s in (("45", 10.5), ("90", 16.8))
)
RUN = Run(
    maneuver="lazy-eight",
    title="Lazy eight",
    airplane="Meadow Four",
    started=datetime(2031, 5, 4, 7, 30, tzinfo=timezone(timedelta(hours=2))),
    moments=MOMENTS,
    trace={
        "t_s": [0.0, 0.5],
        "ias_kt": [99.98765, 98.0],
        "altitude_ft": [3000.0, 3001.0],
        "bank_deg": [0.0, 1.5],
        "pitch_deg": [0.0, 2.0],
    },
    day={"weight": "2300 lb", "wind": "calm"},
    student="Ada",
    pace=0.8,
    support="checkpoints only",
)

TOLERANCES = (Tolerance("speed", 0.0, 5.0, ("90",), "private checkride, by its book"),)
UNHEARD = (Unheard(3.0, 4.25, "not understood"), Unheard(9.0, 9.5, "the coach spoke"))
TAPS = (Tap(10.4), Tap(17.1, 30.0), Tap(17.9, 85.0, "voice", 1.25, "speed"))

TAPPER = """
import sys
from pathlib import Path
from coach.logbook.logbook import Logbook
from coach.taps.tap import Tap
from tests.logbook.examples import RUN
with Logbook(Path(sys.argv[1])) as log:
    number = log.begin(RUN)
    for tick in range(1, 100000):
        log.tap(number, Tap(tick / 1000))
        if tick % 10 == 0:
            log.reached(number, tick / 1000)
        print(tick, flush=True)
"""


def keeps_what_was_told_when_killed(path: Path, taps: int, then_s: float) -> None:
    """Kill a coach after so many taps and a little more, and see what its logbook has.

    Args:
        path: the logbook; what it has is kept.
        taps: how many taps the coach has told of before it is killed.
        then_s: how long it then lives on.
    """
    with Logbook(path) as log:
        before = log.runs(10_000)
    child = subprocess.Popen(
        [sys.executable, "-c", TAPPER, str(path)],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    while int(child.stdout.readline()) < taps:
        pass
    time.sleep(then_s)
    child.send_signal(signal.SIGKILL)
    last_told = max([taps, *(int(line) for line in child.stdout.read().split("\n")[:-1])])
    child.wait()
    with Logbook(path) as log:
        run, *others = log.runs(10_000)
        assert log.note == (
            f"Run {run.id}, Lazy eight, begun 2031-05-04 07:30, was interrupted or is still being "
            f"flown; it is kept up to {run.reached_s:.0f} s with {counted(len(run.taps))}."
        )
    with Logbook(path) as log:
        assert log.note == ""
    assert tuple(others) == before
    assert run.ended == "interrupted"
    assert run.taps_s == tuple(tick / 1000 for tick in range(1, len(run.taps) + 1))
    # The last tap may have been written and not yet been told.
    assert last_told <= len(run.taps) <= last_told + 1
    assert run.reached_s == run.taps_s[-1]


def of_version(path: Path, version: int) -> None:
    """Make a logbook's file that of an earlier coach, from version 2 on."""
    with sqlite3.connect(path) as db:
        if version < 6:
            db.execute("DROP TABLE motions")
            db.execute("DROP TABLE grips")
            db.execute("DROP INDEX runs_at_a_glance")
            db.execute("ALTER TABLE runs DROP COLUMN flown")
            (index,) = (one for one in MIGRATIONS[3] if "CREATE INDEX runs_at" in one)
            db.execute(index)
        if version < 5:
            db.execute("DROP TABLE unheard")
            db.execute("ALTER TABLE runs DROP COLUMN tolerances")
        if version < 4:
            db.execute("DROP INDEX runs_at_a_glance")
            db.execute("ALTER TABLE runs DROP COLUMN room")
            (index,) = (one for one in MIGRATIONS[1] if "INDEX runs_at_a_glance" in one)
            db.execute(index)
        if version < 3:
            db.execute("ALTER TABLE taps DROP COLUMN said")
        db.execute(f"PRAGMA user_version = {version}")
    db.close()


def counted(taps: int) -> str:
    return "1 tap" if taps == 1 else f"{taps:,} taps"
