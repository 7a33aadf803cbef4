"""Rehearsing alone: the browser plays the sound and says where on it each tap was."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from coach.hand.motion import Motion
from coach.logbook.file import Full
from coach.page.alone.rehearsals import Prepared
from coach.page.server.names import LONGEST, new_secret, tidy
from coach.page.server.records import Records
from coach.page.server.replies import Message
from coach.problems import Problem
from coach.rehearsal.attempt import AGAIN_S, Attempt, belongs
from coach.rehearsal.ready import Rehearsal
from coach.taps.tap import Tap

_MOST = 20

_GoingOn = tuple[Prepared, str, Attempt]
"""What is flown, by whom, and what is kept of it."""


class Begin(Message):
    """The sound of a rehearsal starts."""

    rehearsal: Annotated[str, StringConstraints(max_length=64)]
    student: Annotated[str, StringConstraints(max_length=LONGEST)] = ""


class At(Message):
    """Something at a position of the soundtrack, in seconds."""

    position_s: Annotated[float, Field(ge=-60.0, le=36_000.0, allow_inf_nan=False)]


class End(At):
    """The sound is over, or was stopped."""

    ended: Literal["finished", "stopped"]


class Attempts:
    """The attempts that are going on; each becomes a run with its first moment or tap."""

    def __init__(self, records: Records) -> None:
        """Nothing is going on yet."""
        self._records = records
        self._going_on: dict[str, _GoingOn] = {}
        self._ended: dict[str, _GoingOn] = {}
        self._ending: dict[str, asyncio.Task[None]] = {}

    def begin(self, prepared: Prepared, student: str) -> str:
        """An attempt's name; the oldest of many that were never ended is given up.

        Raises:
            Problem: the student's name cannot be one.
        """
        name = new_secret()
        student = tidy(student, "Your name") if student else ""
        self._going_on[name] = (prepared, student, Attempt(prepared.rehearsal))
        if len(self._going_on) > _MOST:
            del self._going_on[next(iter(self._going_on))]
        return name

    async def tap(self, name: str, at: At) -> float | None:
        """Keep a tap; its seconds on the flight's clock, None where the run has not begun."""
        attempt, student, time_s = self._at(name, at)
        if not belongs(time_s):
            return None
        await self._records.ask(lambda book: attempt.tap(book, [(student, Tap(time_s))]))
        return time_s

    async def reached(self, name: str, at: At) -> None:
        """Keep how far it has come."""
        attempt, student, time_s = self._at(name, at)
        await self._records.ask(lambda book: attempt.reached(book, time_s, [student]))

    def flown(self, name: str) -> tuple[Rehearsal, str]:
        """What is flown in it, and by whom.

        Raises:
            Problem: there is no such attempt any more.
        """
        prepared, student, _ = self._of(name, self._going_on)
        return prepared.rehearsal, student

    def by_hand(self, name: str) -> None:
        """It is flown with a phone, whether anything is read of it or not."""
        if name in self._going_on:
            _, student, attempt = self._going_on[name]
            attempt.by_hand([student])

    async def motion(self, name: str, motion: Motion) -> int | None:
        """Keep what the hand flew, of one that has ended as well: that is judged anew.

        Returns:
            The number of the run that was judged anew.

        Raises:
            Problem: it cannot be written, or there is no such attempt any more.
        """
        over = name in self._ended
        _, student, attempt = self._of(name, {**self._ended, **self._going_on})
        await self._records.ask(lambda book: attempt.motion(book, [(student, motion)]))
        return attempt.numbers.get(student) if over else None

    async def end(self, name: str, end: End) -> int | None:
        """Close it; the run's number in the logbook, None where there is none.

        May be asked for again. What a full disk has no room for is written as soon as there is
        some, whether it is asked for again or not.

        Raises:
            Problem: it cannot be written, or not yet.
        """
        if name not in self._ended:
            try:
                await self._end(name, end)
            except Full:
                if name not in self._ending:
                    self._ending[name] = asyncio.create_task(self._end_later(name, end))
                raise
        _, student, attempt = self._ended[name]
        return attempt.numbers.get(student)

    async def _end(self, name: str, end: End) -> None:
        attempt, student, time_s = self._at(name, end)
        await self._records.ask(lambda book: attempt.end(book, end.ended, time_s, [student]))
        self._ended[name] = self._going_on.pop(name)
        if len(self._ended) > _MOST:
            del self._ended[next(iter(self._ended))]

    async def _end_later(self, name: str, end: End) -> None:
        with contextlib.suppress(Problem):
            while name in self._going_on:
                await asyncio.sleep(AGAIN_S)
                with contextlib.suppress(Full):
                    await self._end(name, end)
        del self._ending[name]

    def _at(self, name: str, at: At) -> tuple[Attempt, str, float]:
        prepared, student, attempt = self._of(name, self._going_on)
        return attempt, student, prepared.rehearsal.sheet.flight_s(at.position_s)

    @staticmethod
    def _of(name: str, attempts: Mapping[str, _GoingOn]) -> _GoingOn:
        if name not in attempts:
            raise Problem("That attempt is over: start again.")
        return attempts[name]
