"""An attempt at a rehearsal in the logbook: begun with its first moment, written to as it goes."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime

from coach.debrief.gauging import score
from coach.flight.moment import Moment
from coach.logbook.logbook import Logbook
from coach.logbook.run import TRACE_COLUMNS, Ending, Run
from coach.rehearsal.ready import Rehearsal
from coach.taps.tap import Tap

EARLIEST_TAP_S = -1.0
"""A tap longer before the first moment belongs to the count-in, not to the run."""

AGAIN_S = 1.0
"""How often it is tried to write the end of a run for which the disk has no room."""


def belongs(time_s: float) -> bool:
    """Whether a tap at that second of the flight belongs to the run."""
    return time_s >= EARLIEST_TAP_S


class Attempt:
    """One attempt at a rehearsal by whoever flies it together; each has a run in the logbook.

    A student's run begins with their first tap or with the first moment, and all of one attempt
    began at the same time. Each call writes all of what it is told or nothing; it is on disk when
    the call returns. What could not be written can be told again. A tap of a run that has ended
    already has the run judged anew.

    Attributes:
        numbers: of the runs that have begun, by student.
    """

    def __init__(
        self, rehearsal: Rehearsal, numbers: Mapping[str, int] | None = None, room: str = ""
    ) -> None:
        """Begin nothing yet.

        Args:
            rehearsal: what is flown.
            numbers: of the runs that this attempt has in the logbook already.
            room: the name of the room where it is flown in a class; "" for one that is flown alone.
        """
        self.numbers = dict(numbers or {})
        self._rehearsal = rehearsal
        self._room = room
        self._run: Run | None = None
        self._ended: tuple[Ending, float] | None = None

    def tap(self, logbook: Logbook, taps: Iterable[tuple[str, Tap]]) -> None:
        """Keep taps, each with its student."""
        with self._whole(logbook):
            tapped = set()
            for student, tap in taps:
                logbook.tap(self._begun(logbook, student), tap)
                tapped.add(student)
            if self._ended is not None:
                self._close(logbook, tapped, *self._ended)

    def reached(self, logbook: Logbook, flown_s: float, students: Iterable[str]) -> None:
        """Note how far these students have come; nothing before the first moment."""
        if flown_s > 0.0:
            with self._whole(logbook):
                for student in students:
                    logbook.reached(self._begun(logbook, student), self._within(flown_s))

    def end(
        self, logbook: Logbook, ending: Ending, flown_s: float, students: Iterable[str] = ()
    ) -> None:
        """Close every run and judge it; these students have one even without a tap."""
        self._ended = ending, self._within(flown_s)
        everybody = dict.fromkeys([*self.numbers, *(students if flown_s > 0.0 else ())])
        if everybody:
            with self._whole(logbook):
                self._close(logbook, everybody, *self._ended)

    def _within(self, flown_s: float) -> float:
        return min(max(flown_s, 0.0), self._rehearsal.flight.length_s)

    def _close(
        self, logbook: Logbook, students: Iterable[str], ending: Ending, flown_s: float
    ) -> None:
        for student in students:
            number = self._begun(logbook, student)
            logbook.end(number, ending, flown_s)
            logbook.score(number, score(logbook.run(number)))

    def _begun(self, logbook: Logbook, student: str) -> int:
        if student not in self.numbers:
            self.numbers[student] = self._begin(logbook, student)
        return self.numbers[student]

    def _begin(self, logbook: Logbook, student: str) -> int:
        """Begin a run, along with another one if there is any."""
        for number in self.numbers.values():
            if too := logbook.begin_too(number, student):
                return too
        self._run = self._run or new_run(self._rehearsal)
        return logbook.begin(replace(self._run, student=student, room=self._room))

    @contextlib.contextmanager
    def _whole(self, logbook: Logbook) -> Iterator[None]:
        before = dict(self.numbers)
        try:
            with logbook.together():
                yield
        except BaseException:
            self.numbers = before
            raise


def new_run(rehearsal: Rehearsal) -> Run:
    """The run that begins now, of a student without a name.

    Where the coach asks, a checkpoint asks for what its question had room for.
    """
    flight, sheet = rehearsal.flight, rehearsal.sheet
    moments: Iterable[Moment] = flight.moments
    if any(cue.gap_s for cue in sheet.cues):
        moments = (
            replace(moment, asks=sheet.asked(index)) for index, moment in enumerate(flight.moments)
        )
    table = flight.table(2.0)
    return Run(
        student="",
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
