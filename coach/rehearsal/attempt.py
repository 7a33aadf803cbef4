"""A run in the logbook as it is flown: begun with its first moment, written to as it goes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from coach.debrief.gauging import score
from coach.logbook.logbook import Logbook
from coach.logbook.run import TRACE_COLUMNS, Ending, Run
from coach.rehearsal.ready import Rehearsal
from coach.taps.tap import Tap

EARLIEST_TAP_S = -1.0
"""A tap longer before the first moment belongs to the count-in, not to the run."""


class Keeper:
    """Keeps one student's attempts at a rehearsal.

    Attributes:
        last: the number of the last run that came to its first moment; None when none did.
    """

    def __init__(self, rehearsal: Rehearsal, logbook: Logbook, student: str) -> None:
        self.last: int | None = None
        self._rehearsal = rehearsal
        self._logbook = logbook
        self._student = student
        self._number: int | None = None
        self._noted_s = 0.0
        # Since the last start: starting over begins a run of its own only once it is back there.
        self._counted_in = False

    def tap(self, tap: Tap) -> None:
        """Keep a tap; it is on disk when this returns."""
        self._logbook.tap(self._begun(), tap)

    def reached(self, flown_s: float) -> None:
        """Note about once a second how far the flight has come."""
        self._counted_in = self._counted_in or flown_s <= 0.0
        if self._number is None and not self._counted_in:
            return
        if flown_s > 0.0 and (self._number is None or abs(flown_s - self._noted_s) >= 1.0):
            self._logbook.reached(self._begun(), flown_s)
            self._noted_s = flown_s

    def end(self, ending: Ending, flown_s: float) -> None:
        """Close the run and judge it, if one was begun."""
        number, self._number = self._number, None
        self._counted_in = False
        if number is not None:
            self._logbook.end(number, ending, min(flown_s, self._rehearsal.flight.length_s))
            self._logbook.score(number, score(self._logbook.run(number)))
            self.last = number

    def _begun(self) -> int:
        if self._number is None:
            self._number = self._logbook.begin(new_run(self._rehearsal, self._student))
            self._noted_s = 0.0
        return self._number


def new_run(rehearsal: Rehearsal, student: str) -> Run:
    """The run that a student is about to fly.

    Where the coach asks, a checkpoint whose question had no room asks for nothing.
    """
    flight, sheet = rehearsal.flight, rehearsal.sheet
    asked = {cue.moment for cue in sheet.cues if cue.gap_s} or range(len(flight.moments))
    moments = (
        moment if index in asked else replace(moment, asks=())
        for index, moment in enumerate(flight.moments)
    )
    table = flight.table(2.0)
    return Run(
        student=student,
        maneuver=flight.maneuver.maneuver,
        title=flight.maneuver.title,
        airplane=flight.airplane.title,
        day=rehearsal.day,
        started=datetime.now().astimezone(),
        pace=sheet.pace,
        support=sheet.support,
        moments=tuple(moments),
        trace={name: table[name].tolist() for name in TRACE_COLUMNS},
    )
