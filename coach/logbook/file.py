"""A logbook's file: made, brought up to date, looked through or set aside, and open."""

from __future__ import annotations

import contextlib
import errno
import itertools
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from coach.logbook.rows import ending_of
from coach.logbook.schema import Newer, NotALogbook, as_text, check, migrate, version
from coach.logbook.texts import read
from coach.problems import Problem
from coach.shelf import made
from coach.words import counted

BUSY_S = 10.0
"""How long to wait for another coach's write, which takes milliseconds."""

_LOCKED = "database is locked"

WORDS = {
    "unable to open database file": "its folder must be there to write in, and it must be a file",
    "attempt to write a readonly database": "it must be there to write in, and so must its folder",
    "database or disk is full": "the disk is full",
    "disk I/O error": "the disk cannot be written; it may be full",
    _LOCKED: f"another program keeps it locked for more than {BUSY_S:.0f} s",
}
"""What SQLite complains of, for somebody who never heard of it."""

_FULL = ("database or disk is full", "disk I/O error")
"""The latter as well: so it meets a limit that is not the disk's own."""

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT)

_BESIDE = ("-wal", "-shm")
"""What SQLite keeps beside a file while it is open."""


LEFT_S = 1.0
"""A run notes about once a second how far it is: one that got so near to its end was flown out."""


MEMORY = Path(":memory:")
"""In place of a path, for a file that is gone with its program."""


class Unwritable(Problem):
    """The file, or its folder, cannot be used, and not only until another program is done."""


class Full(Unwritable):
    """Nothing can be written for now; what was not is to be told again when there is room."""


class OpenFile:
    """A logbook's file, used by the thread that opened it.

    Attributes:
        path: where it is.
        note: "" or a sentence to show: a file that was no logbook was set aside, or a run that was
            not ended was found, and what is kept of it.
        aside: where the file lies that was set aside.
    """

    def __init__(self, path: Path) -> None:
        """Open it, making it if there is none.

        Raises:
            Problem: the folder cannot be written, or a later coach wrote the file.
        """
        self.path = path
        with self._asked():
            if path != MEMORY:
                made(path.parent)
            try:
                self._db, self.note, self.aside = _opened(path)
            except Newer:
                raise Problem(
                    f"{path}: a later version of the coach wrote this logbook; "
                    "bring the coach up to date to use it."
                ) from None

    def close(self) -> None:
        """Close it; nothing is pending, everything was written when it was told."""
        self._db.close()

    @contextlib.contextmanager
    def together(self) -> Iterator[None]:
        """Everything in it is written to the disk at once, or nothing; also in another."""
        with self._asked(), together(self._db):
            yield

    def _rows(self, query: str, *values: object) -> list[sqlite3.Row]:
        with self._asked():
            return self._db.execute(query, values).fetchall()

    @contextlib.contextmanager
    def _asked(self) -> Iterator[None]:
        """Whatever keeps the file from being read or written becomes one sentence."""
        try:
            yield
        except (OSError, sqlite3.Error) as error:
            reason = getattr(error, "strerror", None) or WORDS.get(str(error), str(error))
            is_full = str(error) in _FULL or getattr(error, "errno", None) in _NO_ROOM
            kind = Full if is_full else Problem if str(error) == _LOCKED else Unwritable
            raise kind(f"{self.path}: the logbook cannot be used: {reason}.") from None


def _opened(path: Path) -> tuple[sqlite3.Connection, str, Path | None]:
    """A logbook ready for use, what is to be said of it, and where another was set aside.

    Raises:
        Newer: a later coach wrote the file.
        OSError, sqlite3.Error: the file cannot be read or written.
    """
    if path == MEMORY:
        return *_ready(path), None
    # One coach after the other, or one could set aside what another has just begun in its place.
    with alone(path.with_suffix(".lock"), BUSY_S):
        try:
            return *_ready(path), None
        except (NotALogbook, sqlite3.DatabaseError, UnicodeError) as error:
            if isinstance(error, sqlite3.Error) and not _is_damage(error):
                raise
        aside = _set_aside(path)
        note = (
            f"{path} was damaged or no logbook; it was set aside as {aside.name} "
            "and a new logbook begun."
        )
        db, _ = _ready(path)
        return db, note, aside


@contextlib.contextmanager
def together(db: sqlite3.Connection) -> Iterator[None]:
    """Everything in it is one transaction, which may be a part of a longer one."""
    if db.in_transaction:
        yield
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        # A full disk has ended the transaction already.
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def written_anew(db: sqlite3.Connection) -> bool:
    """Leave nothing in the file of what was deleted, which stays until its place is needed.

    Returns:
        Whether that could be done; not while another coach reads the file.
    """
    db.execute("VACUUM")
    busy, *_ = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    return not busy


@contextlib.contextmanager
def alone(path: Path, wait_s: float) -> Iterator[None]:
    """While this lasts, no other coach has the same lock.

    It is SQLite's own, on an empty database: it works everywhere and ends with its process.

    Raises:
        sqlite3.OperationalError: another coach had it for so long, or there can be none.
    """
    lock = _connected(path, wait_s)
    try:
        lock.execute("BEGIN EXCLUSIVE")
        yield
    finally:
        lock.close()


def _connected(path: Path, wait_s: float) -> sqlite3.Connection:
    """A database, which nobody but this machine's user may read where it is made here."""
    with contextlib.suppress(OSError):  # which SQLite meets as well
        if path != MEMORY:
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
    return sqlite3.connect(path, timeout=wait_s, isolation_level=None)


def _ready(path: Path) -> tuple[sqlite3.Connection, str]:
    db = _connected(path, BUSY_S)
    try:
        # Looked at before anything is written: the file may be somebody else's.
        version(db)
        for file in _whole(path):
            private(file)
        db.execute("PRAGMA journal_mode = WAL")
        # FULL: a commit has reached the disk, so not even a power cut loses it.
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        migrate(db)
        check(db)
        db.row_factory = sqlite3.Row
        db.text_factory = as_text
        return db, _not_ended(db)
    except BaseException:
        db.close()
        raise


def _not_ended(db: sqlite3.Connection) -> str:
    """What is kept of runs that were begun and not ended; it is told once."""
    left = db.execute(
        # Cast: a damaged run may hold anything, and is found when it is read. By its index, or the
        # grouping would walk through every run there is.
        "SELECT id, CAST(title AS TEXT) AS title, CAST(started AS TEXT) AS started, trace, moments,"
        " count(time_s) AS taps,"
        " CAST(max(reached_s, coalesce(max(time_s), 0)) AS REAL) AS reached_s"
        " FROM runs INDEXED BY runs_not_ended LEFT JOIN taps ON taps.run = runs.id"
        " WHERE ended IS NULL GROUP BY id ORDER BY began DESC, id DESC"
    ).fetchall()
    if not left:
        return ""
    with together(db):
        for row in reversed(left):
            out = ending_of(row["trace"], row["moments"], row["reached_s"], LEFT_S)
            ended = "finished" if out == "finished" else "interrupted"
            # Its own coach may have ended it since, and knows better.
            db.execute(
                "UPDATE runs SET ended = ? WHERE id = ? AND ended IS NULL", (ended, row["id"])
            )
    run = left[0]
    more = f", and {len(left) - 1} more" if len(left) > 1 else ""
    how = "had come to its end" if out == "finished" else "was interrupted"
    return (
        f"Run {run['id']}, {read(run['title'])}, begun "
        f"{read(run['started'])[:16].replace('T', ' ')}, {how} or is still being flown; it is kept "
        f"up to {run['reached_s']:.0f} s with {counted(run['taps'], 'tap')}{more}."
    )


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
    # The log goes first: it must never lie beside the new logbook, not even after a power cut.
    for ending in _BESIDE:
        with contextlib.suppress(FileNotFoundError):
            path.with_name(path.name + ending).replace(aside.with_name(aside.name + ending))
    path.rename(aside)
    for file in _whole(aside):
        private(file)
    return aside


def _whole(path: Path) -> tuple[Path, ...]:
    """A logbook's file with what SQLite keeps beside it, whether it is there or not."""
    return tuple(path.with_name(path.name + ending) for ending in ("", *_BESIDE))


def private(path: Path) -> None:
    """Let nobody but this machine's user read a file, if it is there and this user's."""
    with contextlib.suppress(OSError):
        path.chmod(0o600)
