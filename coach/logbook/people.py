"""What a logbook has of each student: who there is, their offsets and grips, and how all goes."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING

from coach.logbook.calibration import Calibration
from coach.logbook.file import OpenFile, written_anew
from coach.logbook.past import USABLE
from coach.logbook.texts import read
from coach.problems import Problem, nearest

if TYPE_CHECKING:
    from coach.hand.grip import Grip

_OF_STUDENTS = ("runs", "calibrations", "grips")
"""The tables in which a student is named."""

_MOST_GRIPS = 20
"""Of a student: a phone that is never seen again need not be known for ever."""

_NEARLY = 1e-3
"""So near to unit vectors at right angles a grip's must be."""


class People(OpenFile):
    """The students of an open logbook; every method raises Problem as `Logbook`'s do."""

    def students(self) -> tuple[str, ...]:
        """Everybody who has runs here, in alphabetical order; "" for runs without a name."""
        names = f"SELECT DISTINCT student FROM runs WHERE {USABLE} ORDER BY 1"
        return tuple(dict.fromkeys(read(name) for (name,) in self._rows(names)))

    def calibrate(self, calibration: Calibration) -> None:
        """Keep a student's offset on a device, in place of an earlier one."""
        row = {**asdict(calibration), "found": calibration.found.isoformat()}
        with self._asked():
            self._db.execute(
                "INSERT OR REPLACE INTO calibrations"
                " VALUES (:student, :device, :offset_s, :low_s, :high_s, :found)",
                row,
            )

    def calibration(self, student: str, device: str) -> Calibration | None:
        """A student's offset on a device, or None where none was found yet."""
        for row in self._rows(
            "SELECT * FROM calibrations WHERE student = ? AND device = ?", student, device
        ):
            return Calibration(**{**row, "found": datetime.fromisoformat(row["found"])})
        return None

    def keep_grip(self, student: str, phone: str, grip: Grip) -> None:
        """Keep how a student's phone is held or mounted, in place of how it was before.

        Args:
            student: a name on this machine, or "".
            phone: what its browser calls itself.
            grip: how.
        """
        least = "SELECT rowid FROM grips WHERE student = ? ORDER BY rowid DESC LIMIT ?"
        with self.together():
            self._db.execute(
                "INSERT OR REPLACE INTO grips VALUES (?, ?, ?)",
                (student, phone, json.dumps(asdict(grip))),
            )
            self._db.execute(
                f"DELETE FROM grips WHERE student = ? AND rowid NOT IN ({least})",
                (student, student, _MOST_GRIPS),
            )

    def grip(self, student: str, phone: str) -> Grip | None:
        """How a student's phone is held; None where that was not shown, or cannot be read."""
        for row in self._rows(
            "SELECT grip FROM grips WHERE student = ? AND phone = ?", student, phone
        ):
            return _grip(row["grip"])
        return None

    def holds(self, student: str) -> tuple[int, int, int]:
        """How many runs, calibrations and grips there are of a student."""
        runs, calibrations, grips = (
            int(self._rows(f"SELECT count(*) FROM {table} WHERE student = ?", student)[0][0])
            for table in _OF_STUDENTS
        )
        return runs, calibrations, grips

    def unknown(self, student: str) -> Problem:
        """That there is nothing of such a student here, and who may be meant."""
        offer = nearest(student, filter(None, self.students()))
        return Problem(f"The logbook has nothing of a student '{student}'{offer}")

    def forget(self, student: str) -> int:
        """Remove everything of a student, so that none of it can be read in the file any more.

        What was exported, or set aside as damaged, are other files.

        Returns:
            How many runs there were.

        Raises:
            Problem: there is nothing of this student.
        """
        with self.together():
            gone, *others = self.holds(student)
            if not gone and not any(others):
                raise self.unknown(student)
            for table in _OF_STUDENTS:
                self._db.execute(f"DELETE FROM {table} WHERE student = ?", (student,))
        with self._asked():
            alone = written_anew(self._db)
        if not alone:
            raise Problem(
                f"{self.path}: everything of '{student}' is removed, but another coach is reading "
                "the file; close it, and no trace is left."
            )
        return gone


def _grip(found: object) -> Grip | None:
    """What is kept as text, if it is a grip."""
    from coach.hand.grip import Grip  # which takes long to load

    try:
        kept = json.loads(str(found))
        (a, b, c), (x, y, z) = ([float(one) for one in kept[axis]] for axis in ("nose", "top"))
        quality = kept["quality_deg"]
        quality_deg = None if quality is None else float(quality)
    except (ValueError, TypeError, LookupError, RecursionError):
        return None
    across, lengths = a * x + b * y + c * z, (math.hypot(a, b, c), math.hypot(x, y, z))
    is_grip = abs(across) < _NEARLY and all(abs(one - 1.0) < _NEARLY for one in lengths)
    return Grip((a, b, c), (x, y, z), quality_deg) if is_grip else None
