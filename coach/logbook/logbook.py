"""Runs in an SQLite file, every tap committed before the next one can be made.

A run is begun with its first moment, told how far it got about once a second, and ended. One that
was begun and not ended reads as interrupted, whether its coach was killed or is still flying it. A
student who starts over ends the run as stopped and begins another, so attempts never mix.

A run is known by who flew which maneuver and when it began; its number is only its place in this
file.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from itertools import islice
from pathlib import Path
from typing import get_args

from coach.hand.motion import Motion
from coach.logbook.file import MEMORY, Unwritable
from coach.logbook.past import LIKE_THAT, NEWEST, RECENT, USABLE, Past, read_past
from coach.logbook.people import People
from coach.logbook.rescue import readable
from coach.logbook.rows import BEGUN, SCORE, Damaged, read_run, row_of, told
from coach.logbook.run import DAMAGED, Ending, Run, Score
from coach.problems import Problem
from coach.shelf import data_folder
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard
from coach.words import counted

FILE_NAME = "logbook.sqlite3"

_NOTHING: Mapping[str, object] = {}

_UNSCORED = ", ".join(f"{column} = NULL" for column in SCORE)


class Logbook(People):
    """An open logbook, used by the thread that opened it; a context manager.

    Every method raises Problem when the file cannot be read or written.

    Attributes:
        damage: "" or a sentence to show: runs that were found damaged since it was opened. They are
            left out of everything from then on, and stay in the file.
        unkept: "" or a sentence to show: nothing that is written here lasts, and why.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Open a logbook, making it if there is none.

        Args:
            path: the file; None for the one in the student's own folder.

        Raises:
            Problem: the folder cannot be written, or a later coach wrote the file.
        """
        super().__init__(path or data_folder() / FILE_NAME)
        self.damage = self.unkept = ""
        self._damaged: list[Damaged] = []
        if self.aside is not None and (came := self.add(readable(self.aside))):
            self.note += f" What could be read of it came over to that: {counted(came, 'run')}."

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @classmethod
    def to_fly_with(cls) -> Logbook:
        """The student's own; where that cannot be used, one that is gone with its program.

        Its `unkept` then says so.

        Raises:
            Problem: a later coach wrote the file.
        """
        try:
            return cls()
        except Unwritable as problem:
            book = cls(MEMORY)
            book.unkept = f"{problem} You can fly all the same, and nothing is kept."
            return book

    def begin(self, run: Run) -> int:
        """Write a run down as it begins.

        Args:
            run: the run; its id, ending, reach and score are not looked at.

        Returns:
            Its number in the logbook.
        """
        if run.started.tzinfo is None:
            raise Problem("started: a run's start needs a time zone.")
        with self.together():
            return self._insert(row_of(run), run)

    def begin_too(self, run_id: int, student: str) -> int | None:
        """Write down that another student flies a run along; quicker than `begin`.

        Returns:
            The number of their run; None where there is no such run to fly along.
        """
        fields = ", ".join(BEGUN)
        copy = f"INSERT INTO runs (student, {fields}) SELECT ?, {fields} FROM runs WHERE id = ?"
        with self._asked():
            made = self._db.execute(copy, (student, run_id))
        return made.lastrowid if made.rowcount else None

    def tap(self, run_id: int, tap: Tap) -> None:
        """Write one tap; it is on disk when this returns."""
        with self._asked():
            self._db.execute(
                "INSERT INTO taps (run, time_s, value, how, hesitation_s, said)"
                " VALUES (:run, :time_s, :value, :how, :hesitation_s, :said)",
                {"run": run_id, **asdict(tap)},
            )

    def unheard(self, run_id: int, stretch: Unheard) -> None:
        """Write where what a student said was not perceived; it is on disk when this returns."""
        with self._asked():
            self._db.execute(
                "INSERT INTO unheard (run, from_s, to_s, why) VALUES (:run, :from_s, :to_s, :why)",
                {"run": run_id, **asdict(stretch)},
            )

    def motion(self, run_id: int, motion: Motion) -> None:
        """Write what a hand flew next; it is on disk when this returns."""
        with self._asked():
            self._db.execute(
                "INSERT INTO motions (run, part) VALUES (?, ?)", (run_id, motion.packed())
            )

    def reached(self, run_id: int, time_s: float) -> None:
        """Write how far a run got that goes on, so that a killed coach's run knows it."""
        self._change(run_id, f"reached_s = ?, ended = NULL, {_UNSCORED}", time_s)

    def end(self, run_id: int, ended: Ending, reached_s: float) -> None:
        """Write how the run ended and how far it got."""
        if ended not in get_args(Ending):
            raise Problem(f"ended: must be one of {', '.join(get_args(Ending))}, not {ended}.")
        self._change(run_id, f"ended = ?, reached_s = ?, {_UNSCORED}", ended, reached_s)

    def withdraw(self, run_id: int, before_s: float) -> bool:
        """Take a run back that came to nothing; whether it did, and nothing in it is as late."""
        late = "EXISTS (SELECT 1 FROM taps WHERE run = runs.id AND time_s >= :before_s)"
        with self._asked():
            gone = self._db.execute(
                f"DELETE FROM runs WHERE id = :id AND reached_s < :before_s AND NOT {late}",
                {"id": run_id, "before_s": before_s},
            )
        return gone.rowcount > 0

    def score(self, run_id: int, score: Score) -> None:
        """Write a run's score; a run that goes on or ends after it has to be judged again."""
        figures = asdict(score)
        names = ", ".join(f"{name} = ?" for name in figures)
        self._change(run_id, names, *figures.values())

    def add(self, runs: Iterable[Run]) -> int:
        """Bring in runs that were kept elsewhere, all of them or none.

        Args:
            runs: whole runs; those that the logbook has are left as they are here.

        Returns:
            How many were new.
        """
        new = 0
        with self.together():
            for run in runs:
                began = run.started.timestamp()
                known = self._db.execute(
                    "SELECT 1 FROM runs WHERE student = ? AND maneuver = ?"
                    f" AND began BETWEEN ? AND ? AND started = ? AND {USABLE}",
                    (run.student, run.maneuver, began - 1, began + 1, run.started.isoformat()),
                )
                if known.fetchone() is None:
                    whole = {"ended": run.ended, "reached_s": run.reached_s}
                    score = asdict(run.score) if run.score else {}
                    self._insert({**row_of(run), **whole, **score}, run)
                    new += 1
        return new

    def last(self, student: str | None = None) -> Run | None:
        """The latest run of a student, or of anybody for None; None where there is no such run."""
        if student is None:
            return next(self._read(NEWEST), None)
        return next(self._read(f"AND student = :student {NEWEST}", {"student": student}), None)

    def run(self, number: int) -> Run:
        """A run by its number.

        Raises:
            Problem: there is no such run, and the sentence says which there are; or it is damaged.
        """
        # No number is larger in an SQLite file, nor can be asked for.
        for row in self._rows("SELECT * FROM runs WHERE id = ?", min(number, 2**63 - 1)):
            try:
                with self._asked():
                    return read_run(self._db, row)
            except Damaged as damaged:
                raise Problem(told([damaged])) from None
        first, last = self._rows("SELECT min(id), max(id) FROM runs")[0]
        held = f"its runs are numbered {first} to {last}" if first else "it is empty"
        raise Problem(f"Run {number} is not in the logbook; {held}.")

    def runs(self, limit: int = 20) -> tuple[Run, ...]:
        """The latest runs, newest first."""
        return tuple(islice(self._read(NEWEST), limit))

    def earlier(self, run: Run, limit: int = RECENT) -> tuple[Run, ...]:
        """The student's runs of the same maneuver before this one, newest first."""
        return tuple(
            islice(
                self._read(
                    f"AND {LIKE_THAT} AND (began, id) < (SELECT began, id FROM runs WHERE id = :id)"
                    f" {NEWEST}",
                    {"id": run.id},
                ),
                limit,
            )
        )

    def unscored(self, limit: int = 200) -> tuple[Run, ...]:
        """The latest runs that were not judged yet, newest first."""
        return tuple(islice(self._read(f"AND checkpoints IS NULL {NEWEST}"), limit))

    def every(self) -> Iterator[Run]:
        """Every run, oldest first, one at a time."""
        return self._read("ORDER BY began, id")

    def past(self, student: str | None = None) -> tuple[Past, ...]:
        """What was done so far, for each student and maneuver.

        Args:
            student: whose; None for everybody's.

        Returns:
            In the alphabetical order of students and then of maneuvers.
        """
        while True:
            try:
                with self._asked():
                    return read_past(self._db, student)
            except Damaged as damaged:
                self._leave_out(damaged)

    def _insert(self, row: dict[str, object], run: Run) -> int:
        names, places = ", ".join(row), ", ".join(f":{name}" for name in row)
        number = self._db.execute(f"INSERT INTO runs ({names}) VALUES ({places})", row).lastrowid
        assert number is not None
        for tap in run.taps:
            self.tap(number, tap)
        for stretch in run.unheard:
            self.unheard(number, stretch)
        if run.motion:
            self.motion(number, run.motion)
        return number

    def _change(self, run_id: int, columns: str, *values: object) -> None:
        with self._asked():
            self._db.execute(f"UPDATE runs SET {columns} WHERE id = ?", (*values, run_id))

    def _read(self, which: str, values: Mapping[str, object] = _NOTHING) -> Iterator[Run]:
        with self._asked():
            for row in self._db.execute(f"SELECT * FROM runs WHERE {USABLE} {which}", values):
                try:
                    run = read_run(self._db, row)
                except Damaged as damaged:
                    with contextlib.suppress(Problem):  # the others can be read all the same
                        self._leave_out(damaged)
                else:
                    yield run

    def _leave_out(self, damaged: Damaged) -> None:
        self._damaged.append(damaged)
        self.damage = told(self._damaged)
        self._change(damaged.run_id, "ended = ?", DAMAGED)
