"""A run as a row of the logbook's table, and back."""

from __future__ import annotations

import contextlib
import json
import math
import sqlite3
import zlib
from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any, TypeVar

from coach.flight.moment import Moment
from coach.hand.motion import MOST_READINGS, Motion, unpacked
from coach.logbook.faults import MOST_PARTS, MOST_TAPS, MOST_UNHEARD, faults
from coach.logbook.run import Ending, Run, Score
from coach.logbook.texts import read
from coach.problems import Problem
from coach.script.asked import Asked
from coach.script.tolerance import Tolerance
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard

SCORE = ("checkpoints", "tapped", "on_time", "absolute_error_s", "flown")
"""The columns of a `Score`; its first is NULL where a run was not judged yet."""

BEGUN = (
    *("maneuver", "title", "airplane", "day", "started", "began", "pace", "support", "room"),
    *("moments", "trace", "tolerances"),
)
"""The columns that a run has as it begins, besides its student."""

TRACE_DECIMALS = 2
"""Hundredths of a knot, a foot and a degree are more than a picture shows."""

LARGEST_PART = 20_000_000
"""Bytes of moments or a trace, unpacked: those of the most that a run may have take half of it."""

T = TypeVar("T")

_UNREADABLE = (TypeError, ValueError, RecursionError, zlib.error)
"""What reading a part of a row raises where it is damaged."""


class Damaged(Exception):
    """A run in the file cannot be read.

    Attributes:
        run_id: its number.
        reason: half a sentence.
    """

    def __init__(self, run_id: int, reason: str) -> None:
        super().__init__(run_id, reason)
        self.run_id = run_id
        self.reason = reason


def told(damaged: Sequence[Damaged]) -> str:
    """A sentence to show, of one run or more."""
    first, *more = damaged
    others = f"; it and {len(more)} more are" if more else "; it is"
    return (
        f"Run {first.run_id} is damaged ({first.reason}){others} left out of everything, and an "
        "export from before brings it back: coach logbook --import FILE.json."
    )


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
        "room": run.room,
        "moments": _packed([asdict(moment) for moment in run.moments]),
        "trace": _packed(trace),
        "tolerances": json.dumps([asdict(one) for one in run.tolerances]),
    }


def read_run(db: sqlite3.Connection, row: sqlite3.Row) -> Run:
    """The run of a row, which has all columns, with its taps, motion and what was not perceived.

    A part of its motion that cannot be read is left out: there the hand was not seen.

    Raises:
        Damaged: the row, a tap or a stretch is.
        sqlite3.Error: they cannot be read.
    """
    # Whoever leaves something on the key all the time still has a run.
    taps, unheard = (
        db.execute(
            f"SELECT {columns} FROM {table} WHERE run = ? ORDER BY rowid LIMIT {most}", [row["id"]]
        ).fetchall()
        for table, columns, most in (
            ("taps", "time_s, value, how, hesitation_s, said", MOST_TAPS),
            ("unheard", "from_s, to_s, why", MOST_UNHEARD),
        )
    )
    return _run_of(row, taps, unheard, _motion(db, row["id"]))


def score_of(row: sqlite3.Row) -> Score | None:
    """The score of a row that has the columns `SCORE`."""
    return None if row["checkpoints"] is None else Score(**{name: row[name] for name in SCORE})


def _run_of(
    row: sqlite3.Row,
    taps: Sequence[sqlite3.Row],
    unheard: Sequence[sqlite3.Row],
    motion: Motion,
) -> Run:
    def part(name: str, read: Callable[[], T]) -> T:
        try:
            return read()
        except _UNREADABLE:
            raise Damaged(row["id"], f"its {name} cannot be read") from None

    done = part("taps", lambda: tuple(_tap(**tap) for tap in taps))
    run = Run(
        student=read(row["student"]),
        maneuver=read(row["maneuver"]),
        title=read(row["title"]),
        airplane=read(row["airplane"]),
        room=read(row["room"]),
        day=part("day", lambda: _day(json.loads(row["day"]))),
        started=part("start", lambda: datetime.fromisoformat(row["started"])),
        pace=row["pace"],
        support=read(row["support"]),
        moments=part(
            "checkpoints", lambda: tuple(_moment(**one) for one in _unpacked(row["moments"]))
        ),
        trace=part("trace", lambda: _unpacked(row["trace"])),
        tolerances=part(
            "tolerances",
            lambda: tuple(_tolerance(**one) for one in json.loads(row["tolerances"])),
        ),
        taps=done,
        unheard=part("unheard passages", lambda: tuple(Unheard(**one) for one in unheard)),
        motion=motion,
        ended=row["ended"] or "interrupted",
        # What was done since the last word about it reaches further.
        reached_s=part(
            "taps",
            lambda: max(row["reached_s"], *(tap.time_s for tap in done), *motion.time_s[-1:], 0.0),
        ),
        score=score_of(row),
        id=row["id"],
    )
    for fault in faults(run):
        raise Damaged(row["id"], fault)
    return run


def ending_of(trace: bytes, moments: bytes, reached_s: float, left_s: float) -> Ending | None:
    """How a run ended by how far it got: behind its checkpoints, to the end of its trace, or not.

    Args:
        trace: as it is packed.
        moments: likewise.
        reached_s: how far it got.
        left_s: so much of the trace may be left.

    Returns:
        "finished" or "stopped"; None where that cannot be read.
    """
    try:
        *_, end_s = _unpacked(trace).get("t_s", ()) or (math.inf,)
        last_s = max((one["time_s"] for one in _unpacked(moments)), default=0.0)
        return "finished" if reached_s >= max(end_s - left_s, last_s) else "stopped"
    except (*_UNREADABLE, AttributeError, LookupError):
        return None


def _motion(db: sqlite3.Connection, run_id: int) -> Motion:
    """All of a run's that can be read, as far as there may be so much."""
    parts, left = list[Motion](), MOST_READINGS
    asked = f"SELECT part FROM motions WHERE run = ? ORDER BY rowid LIMIT {MOST_PARTS}"
    try:
        for row in db.execute(asked, [run_id]):
            with contextlib.suppress(Problem, *_UNREADABLE):
                part = unpacked(row["part"])
                if len(part) <= left:
                    parts.append(part)
                    left -= len(part)
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:  # it is damaged there: what came before is whole
        pass
    return Motion().joined(*parts)


def _tap(said: object = None, **values: Any) -> Tap:
    return Tap(said=None if said is None else read(said), **values)


def _moment(name: object, asks: Sequence[Asked] = (), **values: Any) -> Moment:
    # JSON knows no tuples, and older runs no questions.
    return Moment(name=_text(name), asks=tuple(asks), **values)


def _tolerance(of: object, at: Sequence[object], source: object, **values: Any) -> Tolerance:
    return Tolerance(of=_text(of), at=tuple(map(_text, at)), source=_text(source), **values)


def _day(found: object) -> dict[str, Any]:
    return {_text(name): _text(value) for name, value in dict(found).items()}  # type: ignore[call-overload]


def _text(found: Any) -> Any:
    """What stands in a packed part; anything but a text as it is."""
    return read(found) if isinstance(found, str) else found


def _packed(value: object) -> bytes:
    return zlib.compress(json.dumps(value, separators=(",", ":")).encode())


def _unpacked(blob: bytes) -> Any:
    unpacking = zlib.decompressobj()
    text = unpacking.decompress(blob, LARGEST_PART)
    if not unpacking.eof:
        raise ValueError("more of it is left, or missing")
    return json.loads(text)
