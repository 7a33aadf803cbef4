"""A room's runs in the logbook: one for each student, begun with what they do first."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from coach.debrief.debrief import Debrief
from coach.hand.motion import Motion
from coach.logbook.logbook import Logbook
from coach.logbook.run import Ending, Run
from coach.page.alone.study import judged
from coach.page.room.room import Room
from coach.page.room.student import Student
from coach.page.server.names import same
from coach.page.server.records import Records
from coach.problems import Problem
from coach.rehearsal.attempt import Attempt
from coach.taps.tap import Tap
from coach.words import listed


class Runs:
    """What the logbook is told while a room flies; every method may raise Problem."""

    def __init__(
        self, room: Room, records: Records, begun: Callable[[], Awaitable[None]] | None = None
    ) -> None:
        """Nothing is begun yet.

        Args:
            room: whose.
            records: the logbook.
            begun: keeps the numbers of runs that have just begun, before their taps are
                acknowledged: a server that is started again then goes on with the same runs.
        """
        self._room, self._begun = room, begun
        self._records = records
        self._latest: tuple[int, Attempt] | None = None
        self._coming: list[_Coming] = []
        self._flown: list[_Coming] = []
        self._unended: _Unended | None = None
        self._alone = asyncio.Lock()

    async def taps(self, student: Student, times_s: Sequence[float]) -> None:
        """Keep a student's taps; they are on disk when this returns."""
        one = _Coming(self._attempt(), student, times_s)
        await self._keep([one])
        if not one.kept:
            raise one.problem

    def flown(self, student: Student, motion: Motion) -> None:
        """Take what a student's hand did; `motions` keeps it."""
        attempt = self._attempt()
        for one in self._flown:
            if one.attempt is attempt and one.student is student:
                one.motion = one.motion.joined(motion)
                return
        self._flown.append(_Coming(attempt, student, motion=motion))

    async def motions(self) -> list[Student]:
        """Keep what hands did since this was last done; it is on disk when this returns.

        Not at once, as taps: a chunk for each of ten messages a second would be as large again.

        Returns:
            Those whose runs it is a part of, of the attempt that is going on or is over.

        Raises:
            Problem: some could not be kept; it is tried again the next time.
        """
        flown, self._flown = self._flown, []
        if flown:
            await self._keep(flown)
        left = [one for one in flown if not one.kept]
        self._flown = left + self._flown
        if left:
            raise left[0].problem
        return [one.student for one in flown if self._goes_on(one.attempt)]

    async def _keep(self, coming: Sequence[_Coming]) -> None:
        """Have it written, with whatever comes while the disk is busy.

        So a full room waits for it hardly longer than one student.
        """
        self._coming += coming
        async with self._alone:
            if coming[0] in self._coming:  # nobody who came before has written it
                coming, self._coming = self._coming, []
                for attempt in dict.fromkeys(each.attempt for each in coming):
                    await self._write(attempt, [each for each in coming if each.attempt is attempt])

    async def _write(self, attempt: Attempt, coming: list[_Coming]) -> None:
        taps = [tap for one in coming for tap in one.taps()]
        motions = [(one.student.name, one.motion) for one in coming if len(one.motion)]

        def keep(book: Logbook) -> None:
            with attempt.together(book):
                attempt.tap(book, taps)
                attempt.motion(book, motions, at_once=True)

        try:
            await self._records.ask(keep)
        except Problem as problem:
            if len(coming) == 1:
                coming[0].problem = problem
            else:  # one that cannot be kept keeps no other out
                for one in coming:
                    await self._write(attempt, [one])
            return
        for one in coming:
            one.kept = True
            if self._goes_on(attempt):
                one.student.taps += len(one.times_s)
        if self._number(attempt) and self._begun is not None:
            await self._begun()

    async def reached(self, position_s: float) -> None:
        """Write how far the runs have come."""
        if self._room.rehearsal is not None:
            attempt, time_s = self._attempt(), self._time_s(position_s)
            await self._records.ask(lambda book: attempt.reached(book, time_s, attempt.numbers))

    async def end(self, ending: Ending, position_s: float) -> None:
        """End the runs; who was there without a tap gets a run without one.

        Raises:
            Problem: some could not be ended, and the sentence says whose; all others are.
        """
        attempt, time_s = self._attempt(), self._time_s(position_s)
        students = self._room.door.students.values()
        here = [student.name for student in students if student.here]
        attempt.by_hand(student.name for student in students if student.hand is not None)
        with contextlib.suppress(Problem):  # which is told when it is tried again
            await self.motions()
        async with self._alone:
            try:
                await self._records.ask(lambda book: attempt.end(book, ending, time_s, here))
            except Problem:
                names = list(dict.fromkeys([*attempt.numbers, *here]))
                left = _Unended(attempt, ending, time_s, names)
                why = await self._end_each(left)
                if why is not None:
                    names = left.names
                    raise Problem(f"What {listed(names)} flew could not be ended: {why}") from None
            finally:
                self._number(attempt)

    async def end_again(self) -> list[Student]:
        """Try again what could not be ended, such as for a full disk; whose runs are ended now."""
        left = self._unended
        if left is None or not self._goes_on(left.attempt):
            return []
        before = set(left.names)
        async with self._alone:
            await self._end_each(left)
            self._number(left.attempt)
        ended = before.difference(left.names)
        return [one for one in self._room.door.students.values() if one.name in ended]

    async def _end_each(self, left: _Unended) -> Problem | None:
        """End runs one at a time: one that cannot be ended keeps no other from it.

        Returns:
            Why the first could not be of those whose names stay left.
        """

        def end(book: Logbook, name: str) -> None:
            attempt = left.attempt
            if name not in attempt.numbers:
                attempt.reached(book, left.time_s, [name])
            if name in attempt.numbers:
                own = self._attempt_of({name: attempt.numbers[name]})
                own.end(book, left.ending, left.time_s)
                if not own.numbers:  # a false start
                    del attempt.numbers[name]

        problems: dict[str, Problem] = {}
        for name in left.names:
            try:
                await self._records.ask(partial(end, name=name))
            except Problem as problem:
                problems[name] = problem
        left.names = list(problems)
        self._unended = left if problems else None
        return next(iter(problems.values()), None)

    async def leave(self, student: Student) -> None:
        """Somebody was taken out: who comes in under their name begins a run of their own."""
        if self._latest is not None:
            _, attempt = self._latest
            await self._records.do(lambda: attempt.numbers.pop(student.name, None))

    async def own(self, student: Student) -> Debrief | None:
        """A student's debrief; None where they have no run."""
        number = student.run
        if number is None:
            return None
        here = tuple(student.runs)
        return await self._records.ask(lambda logbook: judged(logbook, number, room=here))

    async def everybody(self) -> list[Run]:
        """The runs of the last attempt that can be read, in the order the students came."""
        numbers = [one.run for one in self._room.door.students.values() if one.run is not None]

        def read(book: Logbook) -> list[Run]:
            runs = []
            for number in numbers:
                with contextlib.suppress(Problem):  # a damaged one hides no other
                    runs.append(book.run(number))
            return runs

        return await self._records.ask(read)

    async def known_as(self, name: str) -> str:
        """By what name the logbook has runs of somebody who could be taken for this one.

        Returns:
            "" where it has of nobody; of several the same one as here, or else the first.
        """

        def found(book: Logbook) -> list[str]:
            return [one for one in book.students() if one and same(one, name)]

        alike = await self._records.ask(found)
        return name if name in alike else next(iter(alike), "")

    def _attempt(self) -> Attempt:
        """The one that is going on, or is over; after a restart with the runs that it had."""
        if self._latest is None or not self._goes_on(self._latest[1]):
            students = self._room.door.students.values()
            had = {one.name: one.run for one in students if one.run is not None}
            self._latest = (self._room.run, self._attempt_of(had))
        return self._latest[1]

    def _attempt_of(self, had: Mapping[str, int]) -> Attempt:
        assert self._room.rehearsal is not None
        return Attempt(self._room.rehearsal, had, room=self._room.name)

    def _goes_on(self, attempt: Attempt) -> bool:
        return self._latest == (self._room.run, attempt)

    def _number(self, attempt: Attempt) -> bool:
        """Tell every student the number of their run; whether one has begun."""
        begun = False
        if self._goes_on(attempt):
            for student in self._room.door.students.values():
                student.run = attempt.numbers.get(student.name)
                if student.run is not None and student.run not in student.runs:
                    student.runs.append(student.run)
                    begun = True
        return begun

    def _time_s(self, position_s: float) -> float:
        assert self._room.rehearsal is not None
        return self._room.rehearsal.sheet.flight_s(position_s)


@dataclass(eq=False)
class _Unended:
    """What is left of an attempt's end.

    Attributes:
        attempt: which.
        ending: how it ended.
        time_s: how far it got.
        names: whose runs are still to be ended.
    """

    attempt: Attempt
    ending: Ending
    time_s: float
    names: list[str]


@dataclass(eq=False)
class _Coming:
    """A student's taps, or what the hand did, on their way to the disk.

    Attributes:
        attempt: that they belong to.
        student: whose.
        times_s: of taps, on the flight's clock.
        motion: of the hand.
        kept: whether they are on disk.
        problem: why not.
    """

    attempt: Attempt
    student: Student
    times_s: Sequence[float] = ()
    motion: Motion = field(default_factory=Motion)
    kept: bool = False
    problem: Problem = field(default_factory=lambda: Problem("What came could not be kept."))

    def taps(self) -> Iterator[tuple[str, Tap]]:
        return ((self.student.name, Tap(time_s)) for time_s in self.times_s)
