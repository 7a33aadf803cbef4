"""Rehearsing alone: the browser plays the sound and says where on it each tap was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from coach.logbook.logbook import Logbook
from coach.page.alone.chosen import LONGEST_NAME
from coach.page.alone.rehearsals import Prepared
from coach.page.room.student import new_secret, tidy
from coach.page.server.records import Records, close
from coach.problems import Problem
from coach.rehearsal.attempt import EARLIEST_TAP_S, new_run
from coach.taps.tap import Tap

_MOST = 20


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Begin(_Body):
    """The sound of a rehearsal starts."""

    rehearsal: Annotated[str, StringConstraints(max_length=64)]
    student: Annotated[str, StringConstraints(max_length=LONGEST_NAME)] = ""


class At(_Body):
    """Something at a position of the soundtrack, in seconds."""

    position_s: Annotated[float, Field(ge=-60.0, le=36_000.0, allow_inf_nan=False)]


class End(At):
    """The sound is over, or was stopped."""

    ended: Literal["finished", "stopped"]


@dataclass
class _Attempt:
    prepared: Prepared
    student: str
    number: int | None = None


class Attempts:
    """The attempts that are going on; each becomes a run with its first moment or tap."""

    def __init__(self, records: Records) -> None:
        """Nothing is going on yet."""
        self._records = records
        self._going_on: dict[str, _Attempt] = {}

    def begin(self, prepared: Prepared, student: str) -> str:
        """An attempt's name; the oldest of many that were never ended is given up.

        Raises:
            Problem: the student's name cannot be one.
        """
        name = new_secret()
        self._going_on[name] = _Attempt(prepared, tidy(student, "Your name") if student else "")
        if len(self._going_on) > _MOST:
            del self._going_on[next(iter(self._going_on))]
        return name

    async def tap(self, name: str, at: At) -> float | None:
        """Keep a tap; its seconds on the flight's clock, None where the run has not begun."""
        attempt, time_s = self._at(name, at)
        if time_s < EARLIEST_TAP_S:
            return None
        await self._write(attempt, lambda logbook, number: logbook.tap(number, Tap(time_s)))
        return time_s

    async def reached(self, name: str, at: At) -> None:
        """Keep how far it has come."""
        attempt, time_s = self._at(name, at)
        if time_s > 0.0:
            await self._write(attempt, lambda logbook, number: logbook.reached(number, time_s))

    async def end(self, name: str, end: End) -> int | None:
        """Close it; the run's number in the logbook, None where there is none."""
        attempt, time_s = self._at(name, end)
        flown_s = min(max(time_s, 0.0), attempt.prepared.rehearsal.flight.length_s)
        if attempt.number is not None or time_s > 0.0:
            await self._write(
                attempt, lambda logbook, number: close(logbook, number, end.ended, flown_s)
            )
        self._going_on.pop(name, None)
        return attempt.number

    def _at(self, name: str, at: At) -> tuple[_Attempt, float]:
        attempt = self._going_on.get(name)
        if attempt is None:
            raise Problem("That attempt is over: start again.")
        return attempt, attempt.prepared.rehearsal.sheet.flight_s(at.position_s)

    async def _write(self, attempt: _Attempt, what: Callable[[Logbook, int], None]) -> None:
        def write(logbook: Logbook) -> None:
            if attempt.number is None:
                attempt.number = logbook.begin(new_run(attempt.prepared.rehearsal, attempt.student))
            what(logbook, attempt.number)

        await self._records.ask(write)
