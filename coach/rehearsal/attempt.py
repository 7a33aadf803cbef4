"""An attempt at a rehearsal in the logbook: begun with its first moment, written to as it goes."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import TypeVar

import numpy as np

from coach.debrief.gauging import score
from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.logbook.run import HEADING, TRACE_COLUMNS, Ending, Run
from coach.rehearsal.ready import Rehearsal
from coach.taps.tap import Tap
from coach.taps.unheard import NOT_SEEN, Unheard

T = TypeVar("T")

EARLIEST_TAP_S = -1.0
"""A tap longer before the first moment belongs to the count-in, not to the run."""

GATHERED_S = 1.0
"""So much motion is written at once: the disk would else wait for every few readings."""

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
    already has the run judged anew. An attempt that is stopped before its first checkpoint is a
    false start, and leaves nothing in the logbook. Motion alone is gathered first, see `motion`.

    Attributes:
        numbers: of the runs that have begun, by student; none after a false start.
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
        self._motions: dict[str, Motion] = {}
        self._by_hand: set[str] = set()
        self._ended: tuple[Ending, float] | None = None
        self._false_start = False

    def tap(self, logbook: Logbook, taps: Iterable[tuple[str, Tap]]) -> None:
        """Keep taps, each with its student."""
        self._keep(logbook, [(student, logbook.tap, tap) for student, tap in taps])

    def unheard(self, logbook: Logbook, stretches: Iterable[tuple[str, Unheard]]) -> None:
        """Keep where students were not perceived; nothing of what is over before the run begins."""
        self._keep(
            logbook,
            [(student, logbook.unheard, one) for student, one in stretches if one.to_s > 0.0],
        )

    def by_hand(self, students: Iterable[str]) -> None:
        """These fly with a phone: of whom nothing is read until the end, that is kept then."""
        self._by_hand.update(students)

    def motion(
        self,
        logbook: Logbook,
        motions: Iterable[tuple[str, Motion]],
        *,
        at_once: bool = False,
    ) -> None:
        """Keep what hands flew, each with its student.

        It is written with the first that makes `GATHERED_S` of anybody's, and when the attempt
        ends: less than that is lost where the program is killed. What could not be written is
        still there the next time, and is not to be told again. With ``at_once`` it is written now,
        as taps are.
        """
        if at_once:
            self._keep(logbook, [(student, logbook.motion, one) for student, one in motions])
            return
        if self._false_start:
            return
        for student, motion in motions:
            if motion:
                self._motions[student] = self._motions.get(student, Motion()).joined(motion)
        times = [motion.time_s for motion in self._motions.values()]
        if self._ended or any(one[-1] - one[0] >= GATHERED_S for one in times):
            with self.together(logbook):
                students = self._write_motions(logbook)
                if self._ended is not None:
                    self._close(logbook, students, *self._ended)
            self._motions.clear()

    def reached(self, logbook: Logbook, flown_s: float, students: Iterable[str]) -> None:
        """Note how far these students have come; nothing before the first moment."""
        if flown_s > 0.0 and not self._false_start:
            with self.together(logbook):
                for student in students:
                    logbook.reached(self._begun(logbook, student), self._within(flown_s))

    def end(
        self, logbook: Logbook, ending: Ending, flown_s: float, students: Iterable[str] = ()
    ) -> None:
        """Close every run and judge it; these students have one even without a tap."""
        self._ended = ending, self._within(flown_s)
        first_s = min((moment.time_s for moment in self._rehearsal.flight.moments), default=0.0)
        if ending == "stopped" and flown_s < first_s:
            with self.together(logbook):
                for student, number in tuple(self.numbers.items()):
                    if logbook.withdraw(number, first_s):
                        del self.numbers[student]
            students, self._false_start = (), not self.numbers
        if self._false_start:
            self._motions.clear()
            return
        here = [*self._motions, *(students if flown_s > 0.0 else ())]
        everybody = dict.fromkeys([*self.numbers, *here])
        if everybody:
            with self.together(logbook):
                self._write_motions(logbook)
                self._close(logbook, everybody, *self._ended)
            self._motions.clear()

    def _keep(
        self, logbook: Logbook, done: Iterable[tuple[str, Callable[[int, T], None], T]]
    ) -> None:
        if self._false_start:
            return
        with self.together(logbook):
            students = set()
            for student, keep, one in done:
                keep(self._begun(logbook, student), one)
                students.add(student)
            if self._ended is not None:
                self._close(logbook, students, *self._ended)

    def _write_motions(self, logbook: Logbook) -> list[str]:
        """Write what was gathered; whose it is."""
        for student, motion in self._motions.items():
            logbook.motion(self._begun(logbook, student), motion)
        return [*self._motions]

    def _within(self, flown_s: float) -> float:
        return min(max(flown_s, 0.0), self._rehearsal.flight.length_s)

    def _close(
        self, logbook: Logbook, students: Iterable[str], ending: Ending, flown_s: float
    ) -> None:
        for student in students:
            number = self._begun(logbook, student)
            logbook.end(number, ending, flown_s)
            run = logbook.run(number)
            if student in self._by_hand and not run.motion and not run.unseen:
                logbook.unheard(number, Unheard(0.0, flown_s, NOT_SEEN))
                run = logbook.run(number)
            logbook.score(number, score(run))

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
    def together(self, logbook: Logbook) -> Iterator[None]:
        """All that is kept in it is written, or nothing."""
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
    table = flight.table(2.0)
    trace = {name: table[name] for name in TRACE_COLUMNS}
    trace[HEADING] = np.unwrap(table[HEADING], period=360.0)
    return Run(
        student="",
        maneuver=flight.maneuver.maneuver,
        title=flight.maneuver.title,
        airplane=flight.airplane.title,
        day=rehearsal.day,
        started=datetime.now().astimezone(),
        pace=sheet.pace,
        support=sheet.support,
        moments=sheet.asking(flight.moments),
        trace={name: column.tolist() for name, column in trace.items()},
        tolerances=rehearsal.tolerances,
    )
