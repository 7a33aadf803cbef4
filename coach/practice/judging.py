"""A student's past with every run judged, also those whose coach was killed before it could."""

from __future__ import annotations

from coach.debrief.gauging import score
from coach.logbook.logbook import Logbook
from coach.logbook.past import Past
from coach.logbook.run import LoggedRun


def pasts(logbook: Logbook, student: str | None) -> tuple[Past, ...]:
    """What a student did of each maneuver, or what everybody did for None."""
    while waiting := logbook.unscored():
        for run in waiting:
            assert run.id is not None
            logbook.score(run.id, score(run))
    return logbook.past(student)


def recent(logbook: Logbook, maneuver: str, student: str) -> tuple[LoggedRun, ...]:
    """A student's latest runs of one maneuver, newest first."""
    found = (past for past in pasts(logbook, student) if past.maneuver == maneuver)
    return next((past.recent for past in found), ())
