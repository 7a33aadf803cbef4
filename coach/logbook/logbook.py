"""Runs in an SQLite file, every tap committed before the next one can be made.

A run is begun before its first sound, told how far it got about once a second, and ended. One that
was begun and not ended reads as interrupted, whether its coach was killed or is still flying it. A
student who starts over ends the run as stopped and begins another, so attempts never mix.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import sqlite3
import time
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any, get_args

from coach.flight.moment import Moment
from coach.logbook.run import Ending, Run
from coach.logbook.schema import Newer, NotALogbook, check, migrate, version
from coach.problems import Problem
from coach.script.maneuver import Asked
from coach.shelf import data_folder

FILE_NAME = "logbook.sqlite3"

BUSY_S = 10.0
"""How long to wait for another coach's write, which takes milliseconds."""

TRACE_DECIMALS = 2
"""Hundredths of a knot, a foot and a degree are more than a picture shows."""


class Logbook:
    """An open logbook, used by the thread that opened it; a context manager.

    Every method raises Problem when the file cannot be read or written.

    Attributes:
        path: the file.
        note: "" or one sentence to show: a file that was no logbook was set aside.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Open a logbook, making it if there is none.

        Args:
            path: the file; None for the one in the student's own folder.

        Raises:
            Problem: the folder cannot be written, or a later coach wrote the file.
        """
        self.path = path or data_folder() / FILE_NAME
        self.note = ""
        with self._asked():
            self.path.parent.mkdir(parents=True, exist_ok=True)
            try:
                self._db = _opened(self.path)
            except Newer:
                raise Problem(
                    f"{self.path}: a later version of the coach wrote this logbook; "
                    "bring the coach up to date to use it."
                ) from None
            except (NotALogbook, sqlite3.DatabaseError) as error:
                if not (isinstance(error, NotALogbook) or _is_damage(error)):
                    raise
                aside = _set_aside(self.path)
                self.note = (
                    f"{self.path} was damaged or no logbook; it was set aside as {aside.name} "
                    "and a new logbook begun."
                )
                self._db = _opened(self.path)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; nothing is pending, everything was written when it was told."""
        self._db.close()

    def begin(self, run: Run) -> int:
        """Write a run down before it is flown.

        Args:
            run: the run; its id, ending and reach are not looked at.

        Returns:
            Its number in the logbook.
        """
        if run.started.tzinfo is None:
            raise Problem("started: a run's start needs a time zone.")
        trace = {
            column: [round(value, TRACE_DECIMALS) for value in values]
            for column, values in run.trace.items()
        }
        row = {
            "student": run.student,
            "maneuver": run.maneuver,
            "title": run.title,
            "airplane": run.airplane,
            "day": json.dumps(run.day),
            "started": run.started.isoformat(),
            "pace": run.pace,
            "support": run.support,
            "moments": _packed([asdict(moment) for moment in run.moments]),
            "trace": _packed(trace),
        }
        names, places = ", ".join(row), ", ".join(f":{name}" for name in row)
        with self._asked():
            number = self._db.execute(f"INSERT INTO runs ({names}) VALUES ({places})", row)
        assert number.lastrowid is not None
        for time_s in run.taps_s:
            self.tap(number.lastrowid, time_s)
        return number.lastrowid

    def tap(self, run_id: int, time_s: float) -> None:
        """Write one tap, in seconds on the flight's clock; it is on disk when this returns."""
        with self._asked():
            self._db.execute("INSERT INTO taps VALUES (?, ?)", (run_id, time_s))

    def reached(self, run_id: int, time_s: float) -> None:
        """Write how far the run got, so that a killed coach's run knows it."""
        with self._asked():
            self._db.execute("UPDATE runs SET reached_s = ? WHERE id = ?", (time_s, run_id))

    def end(self, run_id: int, ended: Ending, reached_s: float) -> None:
        """Write how the run ended and how far it got."""
        if ended not in get_args(Ending):
            raise Problem(f"ended: must be one of {', '.join(get_args(Ending))}, not {ended}.")
        with self._asked():
            self._db.execute(
                "UPDATE runs SET ended = ?, reached_s = ? WHERE id = ?", (ended, reached_s, run_id)
            )

    def last(self) -> Run | None:
        """The latest run, or None in an empty logbook."""
        return next(iter(self.runs(1)), None)

    def run(self, number: int) -> Run:
        """A run by its number.

        Raises:
            Problem: there is no such run; the sentence says which there are.
        """
        found = self._read("WHERE id = ?", (number,))
        if not found:
            with self._asked():
                first, last = self._db.execute("SELECT min(id), max(id) FROM runs").fetchone()
            held = f"its runs are numbered {first} to {last}" if first else "it is empty"
            raise Problem(f"Run {number} is not in the logbook; {held}.")
        return found[0]

    def runs(self, limit: int = 20) -> tuple[Run, ...]:
        """The latest runs, newest first."""
        return self._read("ORDER BY id DESC LIMIT ?", (limit,))

    def earlier(self, run: Run, limit: int = 5) -> tuple[Run, ...]:
        """The student's runs of the same maneuver before this one, newest first."""
        return self._read(
            "WHERE maneuver = ? AND student = ? AND id < ? ORDER BY id DESC LIMIT ?",
            (run.maneuver, run.student, run.id, limit),
        )

    def _read(self, which: str, values: tuple[object, ...]) -> tuple[Run, ...]:
        with self._asked():
            cursor = self._db.execute(f"SELECT * FROM runs {which}", values)
            names = [column[0] for column in cursor.description]
            rows = [dict(zip(names, row, strict=True)) for row in cursor]
            return tuple(self._run(row) for row in rows)

    def _run(self, row: dict[str, Any]) -> Run:
        found = self._db.execute(
            "SELECT time_s FROM taps WHERE run = ? ORDER BY rowid", [row["id"]]
        )
        taps = tuple(time_s for (time_s,) in found)
        try:
            return Run(
                **{
                    **row,
                    "day": json.loads(row["day"]),
                    "started": datetime.fromisoformat(row["started"]),
                    "moments": tuple(_moment(**moment) for moment in _unpacked(row["moments"])),
                    "trace": _unpacked(row["trace"]),
                    "taps_s": taps,
                    "ended": row["ended"] or "interrupted",
                    # A tap made since the last word about it reaches further.
                    "reached_s": max(row["reached_s"], *taps, 0.0),
                }
            )
        except (TypeError, ValueError, zlib.error):
            raise Problem(f"{self.path}: run {row['id']} is damaged and cannot be read.") from None

    @contextlib.contextmanager
    def _asked(self) -> Iterator[None]:
        """Whatever keeps the file from being read or written becomes one sentence."""
        try:
            yield
        except (OSError, sqlite3.Error) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise Problem(f"{self.path}: the logbook cannot be used: {reason}.") from None


def _opened(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        # Looked at before anything is written: the file may be somebody else's.
        version(db)
        _keep_a_log_ahead(db)
        # FULL: a commit has reached the disk, so not even a power cut loses it.
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        migrate(db)
        check(db)
    except BaseException:
        db.close()
        raise
    return db


def _keep_a_log_ahead(db: sqlite3.Connection) -> None:
    # SQLite does not wait by itself here while another coach makes the same change.
    until = time.monotonic() + BUSY_S
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.01)


def _is_damage(error: sqlite3.Error) -> bool:
    # "not a database" and "malformed" come as DatabaseError itself; locked, full and read-only
    # come as its subclass OperationalError.
    return type(error) is sqlite3.DatabaseError


def _set_aside(path: Path) -> Path:
    """Rename a file and its write-ahead log to the first free name beside it."""
    for number in itertools.count(1):
        aside = path.with_name(f"{path.stem}-set-aside-{number}{path.suffix}")
        if not aside.exists():
            break
    path.rename(aside)
    for ending in ("-wal", "-shm"):
        with contextlib.suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(aside.with_name(aside.name + ending))
    return aside


def _moment(asks: Sequence[Asked] = (), **values: Any) -> Moment:
    # JSON knows no tuples, and older runs no questions.
    return Moment(asks=tuple(asks), **values)


def _packed(value: object) -> bytes:
    return zlib.compress(json.dumps(value, separators=(",", ":")).encode())


def _unpacked(blob: bytes) -> Any:
    return json.loads(zlib.decompress(blob))
