"""A run as a row of the logbook's table, and back."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from coach.flight.moment import Moment
from coach.logbook.run import Run, Score
from coach.script.maneuver import Asked
from coach.taps.tap import Tap

SCORE = ("checkpoints", "tapped", "on_time", "absolute_error_s")
"""The columns of a `Score`; its first is NULL where a run was not judged yet."""

BEGUN = (
    *("maneuver", "title", "airplane", "day", "started", "began", "pace", "support"),
    *("moments", "trace"),
)
"""The columns that a run has as it begins, besides its student."""

TRACE_DECIMALS = 2
"""Hundredths of a knot, a foot and a degree are more than a picture shows."""


def row_of(run: Run) -> dict[str, object]:
    """A run's columns as it is begun: without its taps, ending, reach and score."""
    trace = {
        column: [round(value, TRACE_DECIMALS) for value in values]
        for column, values in run.trace.items()
    }
    return {
        "student": run.student,
        "maneuver": run.maneuver,
        "title": run.title,
        "airplane": run.airplane,
        "day": json.dumps(run.day),
        "started": run.started.isoformat(),
        "began": run.started.timestamp(),
        "pace": run.pace,
        "support": run.support,
        "moments": _packed([asdict(moment) for moment in run.moments]),
        "trace": _packed(trace),
    }


def run_of(row: sqlite3.Row, taps: tuple[Tap, ...]) -> Run:
    """The run of a row, which has all columns.

    Raises:
        TypeError, ValueError, zlib.error: the row is damaged.
    """
    return Run(
        student=row["student"],
        maneuver=row["maneuver"],
        title=row["title"],
        airplane=row["airplane"],
        day=json.loads(row["day"]),
        started=datetime.fromisoformat(row["started"]),
        pace=row["pace"],
        support=row["support"],
        moments=tuple(_moment(**moment) for moment in _unpacked(row["moments"])),
        trace=_unpacked(row["trace"]),
        taps=taps,
        ended=row["ended"] or "interrupted",
        # A tap made since the last word about it reaches further.
        reached_s=max(row["reached_s"], *(tap.time_s for tap in taps), 0.0),
        score=score_of(row),
        id=row["id"],
    )


def score_of(row: sqlite3.Row) -> Score | None:
    """The score of a row that has the columns `SCORE`."""
    return None if row["checkpoints"] is None else Score(**{name: row[name] for name in SCORE})


def _moment(asks: Sequence[Asked] = (), **values: Any) -> Moment:
    # JSON knows no tuples, and older runs no questions.
    return Moment(asks=tuple(asks), **values)


def _packed(value: object) -> bytes:
    return zlib.compress(json.dumps(value, separators=(",", ":")).encode())


def _unpacked(blob: bytes) -> Any:
    return json.loads(zlib.decompress(blob))
