"""What can still be read of a logbook that had to be set aside."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from coach.logbook.past import USABLE
from coach.logbook.rows import BEGUN, SCORE, Damaged, read_run
from coach.logbook.run import Run
from coach.logbook.schema import Newer, NotALogbook, as_text, migrate_what_is_left

_GIVEN_UP_AFTER = 100_000
"""So many numbers in a row that no run has: more than depend on any page but the first."""


def readable(path: Path) -> Iterator[Run]:
    """The runs of a damaged logbook that can be read whole, in the order of their numbers.

    SQLite has no checksums: a number that damage has changed into another one is read as that.

    Args:
        path: the file, which stays as it is, with its write-ahead log.

    Raises:
        OSError: it cannot be read at all.
    """
    with tempfile.TemporaryDirectory(prefix="logbook") as folder:
        copy = Path(folder, path.name)
        shutil.copyfile(path, copy)
        with contextlib.suppress(FileNotFoundError):
            shutil.copyfile(f"{path}-wal", f"{copy}-wal")
        db = sqlite3.connect(copy, isolation_level=None)
        db.row_factory = sqlite3.Row
        try:
            with contextlib.suppress(NotALogbook, Newer, sqlite3.Error, UnicodeError):
                migrate_what_is_left(db)
                db.text_factory = as_text
                yield from _readable(db)
        finally:
            db.close()


def _readable(db: sqlite3.Connection) -> Iterator[Run]:
    columns = ", ".join(("id", "student", *BEGUN, "reached_s", "ended", *SCORE))
    there = f"SELECT {columns} FROM runs WHERE id = ? AND {USABLE}"
    for table in ("taps", "unheard"):
        with contextlib.suppress(sqlite3.DatabaseError):
            # In place of the table, whose index may be what is damaged.
            db.execute(f"CREATE TEMP TABLE {table} AS SELECT * FROM main.{table} ORDER BY rowid")
            db.execute(f"CREATE INDEX temp.{table}_by_run ON {table} (run)")
    with contextlib.suppress(sqlite3.DatabaseError):  # there, unless it could not be read
        db.execute("CREATE TEMP TABLE unheard (run, from_s, to_s, why)")
    _copy_motions(db)
    # Number by number: on the way from one run to the next, damage may hide those in between.
    missed = 0
    for number in range(1, _last(db) + 1):
        run = _run(db, there, number)
        missed = 0 if run else missed + 1
        if run:
            yield run
        elif missed == _GIVEN_UP_AFTER:
            return


def _copy_motions(db: sqlite3.Connection) -> None:
    """The same for what hands flew, of which most of the file is: what is damaged costs no more."""
    db.execute("CREATE TEMP TABLE motions (run, part)")
    try:
        last = db.execute("SELECT max(rowid) FROM main.motions").fetchone()[0] or 0
    except sqlite3.OperationalError:  # an earlier coach's, which could not be brought up to date
        last = 0
    except sqlite3.DatabaseError:
        last = _GIVEN_UP_AFTER
    part = "SELECT run, part FROM main.motions WHERE rowid = ?"
    missed = 0
    for number in range(1, last + 1):
        rows = []
        with contextlib.suppress(sqlite3.DatabaseError):
            rows = db.execute(part, [number]).fetchall()
        db.executemany("INSERT INTO temp.motions VALUES (?, ?)", rows)
        missed = 0 if rows else missed + 1
        if missed == _GIVEN_UP_AFTER:
            break
    db.execute("CREATE INDEX temp.motions_by_run ON motions (run)")


def _last(db: sqlite3.Connection) -> int:
    """The largest number that a run may have."""
    found = [0]
    for ask in ("SELECT max(id) FROM runs", "SELECT seq FROM sqlite_sequence WHERE name = 'runs'"):
        with contextlib.suppress(sqlite3.DatabaseError):
            found += [int(number) for (number,) in db.execute(ask) if isinstance(number, int)]
    return max(found) or _GIVEN_UP_AFTER


def _run(db: sqlite3.Connection, there: str, number: int) -> Run | None:
    with contextlib.suppress(Damaged, sqlite3.DatabaseError):
        for row in db.execute(there, [number]):
            return read_run(db, row)
    return None
