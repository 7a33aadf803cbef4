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
"""So many numbers in a row that cannot be looked up: more than depend on any page but the first."""


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
    following = "SELECT id FROM runs WHERE id >= ? ORDER BY id LIMIT 1"
    with contextlib.suppress(sqlite3.DatabaseError):
        # In place of the table, whose index may be what is damaged.
        db.execute("CREATE TEMP TABLE taps AS SELECT * FROM main.taps ORDER BY rowid")
        db.execute("CREATE INDEX temp.taps_by_run ON taps (run)")
    number, missed = 1, 0
    while missed < _GIVEN_UP_AFTER:
        with contextlib.suppress(sqlite3.DatabaseError):  # damage on the way: step by step over it
            found = db.execute(following, [number]).fetchone()
            if found is None:
                return
            number = max(number, found["id"])
        run = _run(db, there, number)
        number, missed = number + 1, 0 if run else missed + 1
        if run:
            yield run


def _run(db: sqlite3.Connection, there: str, number: int) -> Run | None:
    with contextlib.suppress(Damaged, sqlite3.DatabaseError):
        for row in db.execute(there, [number]):
            return read_run(db, row)
    return None
