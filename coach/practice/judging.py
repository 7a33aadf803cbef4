"""Runs that ended before they could be judged, as those of a killed coach, judged later."""

from __future__ import annotations

from coach.debrief.gauging import score
from coach.logbook.logbook import Logbook


def judge(logbook: Logbook) -> None:
    """Give every run in a logbook its score, where it has none yet."""
    while waiting := logbook.unscored():
        for run in waiting:
            assert run.id is not None
            logbook.score(run.id, score(run))
