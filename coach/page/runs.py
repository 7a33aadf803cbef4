"""A room's runs in the logbook: one for each student, begun with their first tap."""

from __future__ import annotations

from dataclasses import replace

from coach.debrief.debrief import Debrief
from coach.keeping import new_run
from coach.logbook.logbook import Logbook
from coach.logbook.run import Ending, Run
from coach.page.records import Records, close, judged
from coach.page.room import Room
from coach.page.student import Student
from coach.taps.tap import Tap


class Runs:
    """What the logbook is told while a room flies; every method may raise Problem."""

    def __init__(self, room: Room, records: Records) -> None:
        """Nothing is begun yet."""
        self._room = room
        self._records = records
        self._begun: tuple[int, Run] | None = None
        self._ended: tuple[int, Ending, float] | None = None

    async def tap(self, student: Student, time_s: float) -> None:
        """Keep a tap; it is on disk when this returns."""
        tap = Tap(time_s)
        run = replace(self._run(student), taps=(tap,))

        def write(logbook: Logbook) -> None:
            if student.run is None:
                student.run = logbook.begin(run)
            else:
                logbook.tap(student.run, tap)
            if self._ended is not None and self._ended[0] == self._room.run:
                close(logbook, student.run, *self._ended[1:])  # the phone was away till after it

        await self._records.ask(write)
        student.taps += 1

    async def reached(self, position_s: float) -> None:
        """Write how far the runs have come."""
        time_s = self._time_s(position_s)
        numbers = [student.run for student in self._students() if student.run is not None]

        def write(logbook: Logbook) -> None:
            for number in numbers:
                logbook.reached(number, time_s)

        if time_s > 0.0:
            await self._records.ask(write)

    async def end(self, ending: Ending, position_s: float) -> None:
        """End the runs; who was there without a tap gets a run without one."""
        time_s = self._time_s(position_s)
        self._ended = (self._room.run, ending, max(time_s, 0.0))
        students = [(student, self._run(student)) for student in self._students()]

        def write(logbook: Logbook) -> None:
            for student, run in students:
                if student.run is None and student.here and time_s > 0.0:
                    student.run = logbook.begin(run)
                if student.run is not None:
                    close(logbook, student.run, ending, max(time_s, 0.0))

        await self._records.ask(write)

    async def own(self, student: Student) -> Debrief | None:
        """A student's debrief; None where they have no run."""
        number = student.run
        if number is None:
            return None
        return await self._records.ask(lambda logbook: judged(logbook, number))

    async def everybody(self) -> list[Run]:
        """The runs of the last attempt, in the order the students came."""
        numbers = [student.run for student in self._students() if student.run is not None]
        return await self._records.ask(lambda book: [book.run(number) for number in numbers])

    def _students(self) -> list[Student]:
        return list(self._room.students.values())

    def _run(self, student: Student) -> Run:
        """The run they would begin: all of one attempt began at the same time."""
        assert self._room.rehearsal is not None
        if self._begun is None or self._begun[0] != self._room.run:
            self._begun = (self._room.run, new_run(self._room.rehearsal, ""))
        return replace(self._begun[1], student=student.name)

    def _time_s(self, position_s: float) -> float:
        rehearsal = self._room.rehearsal
        if rehearsal is None:
            return 0.0
        return min(rehearsal.sheet.flight_s(position_s), rehearsal.flight.length_s)
