"""How a logbook file is laid out, made and brought up to date."""

from __future__ import annotations

import contextlib
import functools
import sqlite3
from collections.abc import Callable, Iterator, Mapping

from coach.logbook.rows import ending_of
from coach.logbook.run import DAMAGED
from coach.logbook.texts import mended

APPLICATION = 0x43464C42
"""SQLite's application id of a logbook: the file says itself that it is one."""

CHECKED_BYTES = 50_000_000
"""About ten thousand runs, or a thousand with a hand, looked through in some 130 ms."""

MIGRATIONS = (
    (
        """CREATE TABLE runs (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            student TEXT NOT NULL,
            maneuver TEXT NOT NULL,
            title TEXT NOT NULL,
            airplane TEXT NOT NULL,
            day TEXT NOT NULL,
            started TEXT NOT NULL,
            pace REAL NOT NULL,
            support TEXT NOT NULL,
            moments BLOB NOT NULL,
            trace BLOB NOT NULL,
            reached_s REAL NOT NULL DEFAULT 0,
            ended TEXT
        )""",
        "CREATE INDEX runs_of_a_maneuver ON runs (maneuver, student, id)",
        """CREATE TABLE taps (
            run INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
            time_s REAL NOT NULL
        )""",
        "CREATE INDEX taps_of_a_run ON taps (run)",
    ),
    (
        "ALTER TABLE taps ADD COLUMN value REAL",
        "ALTER TABLE taps ADD COLUMN how TEXT NOT NULL DEFAULT 'key'",
        "ALTER TABLE taps ADD COLUMN hesitation_s REAL",
        "ALTER TABLE runs ADD COLUMN checkpoints INTEGER",
        "ALTER TABLE runs ADD COLUMN tapped INTEGER",
        "ALTER TABLE runs ADD COLUMN on_time INTEGER",
        "ALTER TABLE runs ADD COLUMN absolute_error_s REAL",
        # Starts are written with their own time zones, so they do not sort: this is the same in
        # seconds since 1970.
        "ALTER TABLE runs ADD COLUMN began REAL NOT NULL DEFAULT 0",
        "UPDATE runs SET began = (julianday(started) - 2440587.5) * 86400",
        "DROP INDEX runs_of_a_maneuver",
        # All that a summary needs, so that it never touches the moments and traces, which are
        # nearly all of the file.
        """CREATE INDEX runs_at_a_glance ON runs (
            student, maneuver, began, id, started, pace, support, ended,
            checkpoints, tapped, on_time, absolute_error_s
        )""",
        "CREATE INDEX runs_in_time ON runs (began)",
        "CREATE INDEX runs_not_ended ON runs (began) WHERE ended IS NULL",
        "CREATE INDEX runs_not_scored ON runs (began) WHERE checkpoints IS NULL",
        """CREATE TABLE calibrations (
            student TEXT NOT NULL,
            device TEXT NOT NULL,
            offset_s REAL NOT NULL,
            low_s REAL NOT NULL,
            high_s REAL NOT NULL,
            found TEXT NOT NULL,
            PRIMARY KEY (student, device)
        )""",
    ),
    ("ALTER TABLE taps ADD COLUMN said TEXT",),
    (
        "ALTER TABLE runs ADD COLUMN room TEXT NOT NULL DEFAULT ''",
        "DROP INDEX runs_at_a_glance",
        # Names came in as they were written, and a run was called damaged for one that cannot be
        # printed. As bytes: what is no text could not be handed to a function.
        *(
            f"UPDATE runs SET {name} = mended(CAST({name} AS BLOB))"
            f" WHERE {name} IS NOT mended(CAST({name} AS BLOB))"
            for name in ("student", "maneuver", "title", "airplane", "support")
        ),
        f"UPDATE runs SET ended = coalesce(ending_of(trace, moments, reached_s, 0), '{DAMAGED}')"
        f" WHERE ended = '{DAMAGED}'",
        """DELETE FROM calibrations WHERE EXISTS (
            SELECT 1 FROM calibrations AS other
            WHERE other.device = calibrations.device
            AND mended(CAST(other.student AS BLOB)) = mended(CAST(calibrations.student AS BLOB))
            AND (julianday(other.found), other.rowid)
                > (julianday(calibrations.found), calibrations.rowid)
        )""",
        "UPDATE calibrations SET student = mended(CAST(student AS BLOB))",
        """CREATE INDEX runs_at_a_glance ON runs (
            student, maneuver, began, id, started, pace, support, room, ended,
            checkpoints, tapped, on_time, absolute_error_s
        )""",
    ),
    (
        "ALTER TABLE runs ADD COLUMN tolerances TEXT NOT NULL DEFAULT '[]'",
        """CREATE TABLE unheard (
            run INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
            from_s REAL NOT NULL,
            to_s REAL NOT NULL,
            why TEXT NOT NULL
        )""",
        "CREATE INDEX unheard_of_a_run ON unheard (run)",
        # Scores count by other rules from here on, and no trend may mix them: all are judged anew.
        "UPDATE runs SET checkpoints = NULL, tapped = NULL, on_time = NULL,"
        " absolute_error_s = NULL",
    ),
    (
        """CREATE TABLE motions (
            run INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
            part BLOB NOT NULL
        )""",
        "CREATE INDEX motions_of_a_run ON motions (run)",
        """CREATE TABLE grips (
            student TEXT NOT NULL,
            phone TEXT NOT NULL,
            grip TEXT NOT NULL,
            PRIMARY KEY (student, phone)
        )""",
        "ALTER TABLE runs ADD COLUMN flown INTEGER",
        "UPDATE runs SET flown = 0 WHERE checkpoints IS NOT NULL",
        "DROP INDEX runs_at_a_glance",
        """CREATE INDEX runs_at_a_glance ON runs (
            student, maneuver, began, id, started, pace, support, room, ended,
            checkpoints, tapped, on_time, absolute_error_s, flown
        )""",
    ),
)
"""Entry n leads from version n to n + 1. Entries are added, never changed."""

_FUNCTIONS: Mapping[str, tuple[int, Callable[..., str | None]]] = {
    "mended": (1, mended),
    "ending_of": (4, ending_of),
}
"""What they call, by name, with how many values it takes; none ever raises anything."""


as_text = functools.partial(str, encoding="utf-8", errors="replace")
"""What stands in the file as a text: bytes that are none keep nothing else from being read."""


class NotALogbook(Exception):
    """The file is an SQLite database of something else, or a damaged logbook."""


class Newer(Exception):
    """The logbook was written by a later version of the coach."""


def version(db: sqlite3.Connection) -> int:
    """The file's schema version, 0 for an empty file; writes nothing.

    Raises:
        NotALogbook: a database of something else.
        Newer: a logbook of a later coach.
        sqlite3.DatabaseError: no database, or a truncated one.
    """
    # One statement, so one snapshot: another coach may be making the file at this moment.
    application: int
    found: int
    application, found, tables = db.execute(
        "SELECT application_id, user_version, (SELECT count(*) FROM sqlite_master) "
        "FROM pragma_application_id, pragma_user_version"
    ).fetchone()
    if application != APPLICATION and (application or found or tables):
        raise NotALogbook
    if found > len(MIGRATIONS):
        raise Newer
    return found


def migrate(db: sqlite3.Connection) -> None:
    """Bring a logbook, or an empty file, up to date in one transaction."""
    if version(db) == len(MIGRATIONS):
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        # Asked again inside the transaction: another coach may have just done it.
        for statement in _left(db):
            db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION}")
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


def migrate_what_is_left(db: sqlite3.Connection) -> None:
    """Bring a copy of a damaged logbook up to date as far as the damage lets that be done."""
    for statement in _left(db):
        with contextlib.suppress(sqlite3.DatabaseError):
            db.execute(statement)


def _left(db: sqlite3.Connection) -> Iterator[str]:
    """Every statement that leads from the file's version to the latest."""
    for name, (values, function) in _FUNCTIONS.items():
        db.create_function(name, values, function, deterministic=True)
    for number in range(version(db), len(MIGRATIONS)):
        yield from MIGRATIONS[number]


def check(db: sqlite3.Connection) -> None:
    """Look through the file's structure, unless it is so large that the student would wait.

    Its indexes too: one that does not fit the runs lets them be read, and the next one not written.

    Raises:
        NotALogbook: the file is damaged somewhere.
    """
    size = _pragma(db, "page_count") * _pragma(db, "page_size")
    if size <= CHECKED_BYTES and db.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
        raise NotALogbook


def _pragma(db: sqlite3.Connection, name: str) -> int:
    return int(db.execute(f"PRAGMA {name}").fetchone()[0])
