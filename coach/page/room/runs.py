"""A room's runs in the logbook: one for each student, begun with their first tap."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from coach.debrief.debrief import Debrief
from coach.logbook.logbook import Logbook
from coach.logbook.run import Ending, Run
from coach.page.room.room import Room
from coach.page.room.student import Student
from coach.page.server.records import Records, close, judged
from coach.problems import Problem
from coach.rehearsal.attempt import new_run
from coach.taps.tap import Tap

Begun = dict[tuple[int, Student], int]
"""The number in the logbook by the room's run and the student."""


class Runs:
    """What the logbook is told while a room flies; every method may raise Problem."""

    def __init__(self, room: Room, records: Records) -> None:
        """Nothing is begun yet."""
        self._room = room
        self._records = records
        self._begins: tuple[int, Run] | None = None
        self._ended: tuple[int, Ending, float] | None = None
        self._coming: list[_Coming] = []
        self._alone = asyncio.Lock()

    async def taps(self, student: Student, times_s: Sequence[float]) -> None:
        """Keep a student's taps; they are on disk when this returns.

        Whatever comes while the disk is busy is written together next, so a full room waits for
        it hardly longer than one student.
        """
        one = _Coming(self._room.run, self._run(student), student, times_s)
        self._coming.append(one)
        async with self._alone:
            if one in self._coming:  # nobody who came before has written it
                coming, self._coming = self._coming, []
                await self._write(coming)
        if not one.kept:
            raise one.problem

    async def _write(self, coming: list[_Coming]) -> None:
        begun, ended = self._begun(), self._ended
        try:
            begun = await self._records.ask(lambda book: _keep(book, coming, begun, ended))
        except Problem as problem:
            if len(coming) == 1:
                coming[0].problem = problem
            else:  # one that cannot be kept keeps no other out
                for one in coming:
                    await self._write([one])
            return
        self._are_begun(begun)
        for one in coming:
            one.kept = True
            if one.attempt == self._room.run:
                one.student.taps += len(one.times_s)

    async def reached(self, position_s: float) -> None:
        """Write how far the runs have come."""
        time_s = self._time_s(position_s)
        numbers = list(self._begun().values())

        def write(logbook: Logbook) -> None:
            with logbook.together():
                for number in numbers:
                    logbook.reached(number, time_s)

        if time_s > 0.0:
            await self._records.ask(write)

    async def end(self, ending: Ending, position_s: float) -> None:
        """End the runs; who was there without a tap gets a run without one."""
        attempt, time_s = self._room.run, self._time_s(position_s)
        ended = (attempt, ending, max(time_s, 0.0))
        self._ended = ended
        async with self._alone:
            begun = self._begun()
            coming = [
                _Coming(attempt, self._run(student), student)
                for student in self._students()
                if (attempt, student) in begun or (student.here and time_s > 0.0)
            ]
            self._are_begun(await self._records.ask(lambda book: _keep(book, coming, begun, ended)))

    async def own(self, student: Student) -> Debrief | None:
        """A student's debrief; None where they have no run."""
        number = student.run
        if number is None:
            return None
        return await self._records.ask(lambda logbook: judged(logbook, number, led=True))

    async def everybody(self) -> list[Run]:
        """The runs of the last attempt, in the order the students came."""
        numbers = list(self._begun().values())
        return await self._records.ask(lambda book: [book.run(number) for number in numbers])

    def _students(self) -> Iterable[Student]:
        return self._room.students.values()

    def _begun(self) -> Begun:
        """The runs of the room's run that is going on, or is over."""
        attempt = self._room.run
        return {(attempt, one): one.run for one in self._students() if one.run is not None}

    def _are_begun(self, begun: Begun) -> None:
        for (attempt, student), number in begun.items():
            if attempt == self._room.run:
                student.run = number

    def _run(self, student: Student) -> Run:
        """The run they would begin: all of one attempt began at the same time."""
        assert self._room.rehearsal is not None
        if self._begins is None or self._begins[0] != self._room.run:
            self._begins = (self._room.run, new_run(self._room.rehearsal, ""))
        return replace(self._begins[1], student=student.name)

    def _time_s(self, position_s: float) -> float:
        rehearsal = self._room.rehearsal
        if rehearsal is None:
            return 0.0
        return min(rehearsal.sheet.flight_s(position_s), rehearsal.flight.length_s)


@dataclass(eq=False)
class _Coming:
    """A student's taps on their way to the disk, or only their run.

    Attributes:
        attempt: the room's run that they belong to.
        run: what begins with them.
        student: whose.
        times_s: on the flight's clock.
        kept: whether they are on disk.
        problem: why not.
    """

    attempt: int
    run: Run
    student: Student
    times_s: Sequence[float] = ()
    kept: bool = False
    problem: Problem = field(default_factory=lambda: Problem("This tap could not be kept."))


def _keep(
    logbook: Logbook,
    coming: list[_Coming],
    begun: Begun,
    ended: tuple[int, Ending, float] | None,
) -> Begun:
    """Write all of it or nothing; what is begun then.

    A run that is over already, as its student's phone was away till after it, is judged anew.
    """
    begun = dict(begun)
    with logbook.together():
        for one in coming:
            number = begun.get((one.attempt, one.student)) or _begin(logbook, one, begun)
            begun[one.attempt, one.student] = number
            for time_s in one.times_s:
                logbook.tap(number, Tap(time_s))
            if ended is not None and ended[0] == one.attempt:
                close(logbook, number, *ended[1:])
    return begun


def _begin(logbook: Logbook, one: _Coming, begun: Begun) -> int:
    """Begin a run along with another one, if there is any."""
    for (attempt, _), number in begun.items():
        if attempt == one.attempt and (too := logbook.begin_too(number, one.run.student)):
            return too
    return logbook.begin(one.run)
