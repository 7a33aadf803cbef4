"""Somebody in a room, or at its door."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.hand.readings import Readings
from coach.page.hand.hand import Hand
from coach.page.room.messages import PhoneTap
from coach.page.server.clocks import BrowserClock
from coach.problems import Problem
from coach.rehearsal.moving import Moving


@dataclass(eq=False)
class Student:
    """Somebody in the room, or who waits to be let in.

    Attributes:
        number: in this room, from 1.
        name: as they gave it, tidied, or as the logbook has it.
        token: what their phone comes back with.
        address: where they joined from; "" where that is not known any more.
        next_tap: the number of their next tap; an earlier one was taken already.
        run: their run's number in the logbook; None before they did anything in a run.
        runs: the numbers of all that they flew in this room.
        taps: how many belong to this run.
        connections: counts how often their phone came.
        here: whether it is connected.
        clock: their phone's.
        waiting: taps that wait for the clock.
        hand: their phone, where it is held as the airplane.
        trouble: what is wrong with it, a sentence; "" where all is well.
        moving: what that does in this run; None before it did anything in it.
        readings: of it, that wait for the loudspeaker.
        given_up: tokens that are dead, since somebody came back by this name and the code.
    """

    number: int
    name: str
    token: str
    address: str = ""
    next_tap: int = 1
    run: int | None = None
    runs: list[int] = field(default_factory=list)
    taps: int = 0
    connections: int = 0
    here: bool = False
    clock: BrowserClock = field(default_factory=BrowserClock)
    waiting: list[PhoneTap] = field(default_factory=list)
    hand: Hand | None = None
    trouble: str = ""
    moving: Moving | None = None
    readings: list[Readings] = field(default_factory=list)
    given_up: set[str] = field(default_factory=set)

    def anew(self) -> None:
        """They have done nothing yet, of another run."""
        self.run, self.taps, self.moving = None, 0, None
        self.readings.clear()


class Taken(Problem):
    """A name is somebody's already.

    Attributes:
        gone: whether their phone is gone, so that it may be they who want to come in.
    """

    def __init__(self, student: Student) -> None:
        self.gone = not student.here
        super().__init__(
            f"{student.name} was in the room, and the phone is gone. If that was you, go on with "
            "your taps; if not, add a letter to your name."
            if self.gone
            else f"{student.name} is in the room already: add a letter to your name, or close the "
            "other page if that is you."
        )
