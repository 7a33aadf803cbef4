"""What a logbook has of each student: who there is, their offsets, and how all of one goes."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime

from coach.logbook.calibration import Calibration
from coach.logbook.file import OpenFile, written_anew
from coach.logbook.past import USABLE
from coach.logbook.texts import read
from coach.problems import Problem, nearest


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

    def holds(self, student: str) -> tuple[int, int]:
        """How many runs and how many calibrations there are of a student."""
        runs, calibrations = (
            int(self._rows(f"SELECT count(*) FROM {table} WHERE student = ?", student)[0][0])
            for table in ("runs", "calibrations")
        )
        return runs, calibrations

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
            gone, calibrations = self.holds(student)
            if not gone and not calibrations:
                raise self.unknown(student)
            for table in ("runs", "calibrations"):
                self._db.execute(f"DELETE FROM {table} WHERE student = ?", (student,))
        with self._asked():
            alone = written_anew(self._db)
        if not alone:
            raise Problem(
                f"{self.path}: everything of '{student}' is removed, but another coach is reading "
                "the file; close it, and no trace is left."
            )
        return gone
