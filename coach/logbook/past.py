"""What a logbook knows at a glance: a line for each run, and one student's past in a maneuver."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import datetime

from coach.logbook.faults import line_faults
from coach.logbook.rows import SCORE, Damaged, score_of
from coach.logbook.run import DAMAGED, LoggedRun
from coach.logbook.texts import read

RECENT = 30
"""How many runs of a maneuver are told one by one."""

NEWEST = "ORDER BY began DESC, id DESC"

USABLE = f"ended IS NOT '{DAMAGED}'"

LIKE_THAT = (
    "student = (SELECT student FROM runs WHERE id = :id)"
    " AND maneuver = (SELECT maneuver FROM runs WHERE id = :id)"
)
"""Of the same student and maneuver as one run, however their names are written in the file."""


@dataclass(frozen=True)
class Past:
    """What one student did of one maneuver.

    Attributes:
        student: the name, or "".
        maneuver: the script's name.
        title: the maneuver's name for people, as its latest run has it.
        runs: how many there are in all.
        best: of the runs that govern (`coach.debrief.governing`) the one with the greatest share of
            checkpoints on time; of equals the one with the smaller error, then the latest. None
            where none does.
        recent: the latest runs, newest first.
    """

    student: str
    maneuver: str
    title: str
    runs: int
    best: LoggedRun | None
    recent: tuple[LoggedRun, ...]


def read_past(db: sqlite3.Connection, student: str | None) -> tuple[Past, ...]:
    """One student's past, or everybody's, from the index `runs_at_a_glance` alone.

    Raises:
        Damaged: a run has to be left out first.
        sqlite3.Error: the logbook cannot be read.
    """
    which, values = ("", ()) if student is None else ("AND student = ?", (student,))
    groups = db.execute(
        f"SELECT max(id), student, maneuver, count(*) FROM runs WHERE {USABLE} {which}"
        " GROUP BY student, maneuver ORDER BY student, maneuver",
        values,
    ).fetchall()
    return tuple(_past(db, *group) for group in groups)


def _past(db: sqlite3.Connection, run_id: int, student: str, maneuver: str, runs: int) -> Past:
    lines = (
        f"SELECT id, started, pace, support, room, ended, {', '.join(SCORE)}"
        f" FROM runs WHERE {USABLE} AND {LIKE_THAT}"
    )
    recent = db.execute(f"{lines} {NEWEST} LIMIT {RECENT}", {"id": run_id}).fetchall()
    best = db.execute(
        f"{lines} AND ended = 'finished' AND pace = 1.0 AND tapped > 0"
        " ORDER BY 1.0 * on_time / checkpoints DESC, absolute_error_s NULLS LAST, began DESC"
        " LIMIT 1",
        {"id": run_id},
    ).fetchone()
    title = db.execute("SELECT title FROM runs WHERE id = ?", [recent[0]["id"]]).fetchone()["title"]
    return Past(
        student=read(student),
        maneuver=read(maneuver),
        title=read(title),
        runs=runs,
        best=best and _line(best),
        recent=tuple(map(_line, recent)),
    )


def _line(row: sqlite3.Row) -> LoggedRun:
    try:
        started = datetime.fromisoformat(row["started"])
    except (TypeError, ValueError):
        raise Damaged(row["id"], "its start cannot be read") from None
    line = LoggedRun(
        id=row["id"],
        started=started,
        pace=row["pace"],
        support=read(row["support"]),
        room=read(row["room"]),
        ended=row["ended"] or "interrupted",
        score=score_of(row),
    )
    for fault in line_faults(line):
        raise Damaged(row["id"], fault)
    return line
