"""How a script writes a leg: what bank, nose, speed and power do, and when it is over."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from coach.script.endings import After, Ending, Until
from coach.script.reading import Sheet
from coach.script.targets import OpenShare, OpenTime, TargetLength, TargetSpeed
from coach.script.ways import (
    Change,
    Circle,
    Hold,
    Path,
    Pitch,
    Pylon,
    Sideways,
    Track,
    Turn,
    Upright,
)

Word = Annotated[str, Field(min_length=1, max_length=60)]


class Leg(Sheet):
    """One stretch of a loop. What it does not mention stays as it is.

    Sideways it changes its ``bank`` or flies a ``turn``, ``circle``, ``track`` or ``pylon``; up and
    down it changes ``pitch`` or ``path`` or holds an ``altitude``. A ``speed`` is held with the
    power where that is ``as needed``, and with the nose where it is set.
    """

    name: Word
    time: OpenTime | None = None
    until: Until | None = None
    bank: Change | None = None
    turn: Turn | None = None
    circle: Circle | None = None
    track: Track | None = None
    pylon: Pylon | None = None
    pitch: Change | None = None
    path: Change | None = None
    altitude: TargetLength | None = None
    speed: TargetSpeed | None = None
    power: OpenShare | None = None

    @property
    def sideways(self) -> Sideways | None:
        """What its bank does; None where that stays as it is."""
        return self.bank or self.turn or self.circle or self.track or self.pylon

    @property
    def upright(self) -> Upright | None:
        """What its nose does; None where that stays as it is, or holds the speed."""
        if self.altitude is not None:
            return Hold(self.altitude)
        if self.path is not None:
            return Path(self.path)
        return None if self.pitch is None else Pitch(self.pitch)

    @property
    def ending(self) -> Ending:
        """When it is over."""
        if self.time is not None:
            return After(self.time)
        if self.until is not None:
            return self.until.ending
        turning = self.sideways
        assert isinstance(turning, Turn | Circle | Pylon), "checked by `faults`"
        assert turning.goal is not None, "checked by `faults`"
        return turning.goal

    @property
    def scheduled(self) -> bool:
        """Whether it runs by the clock alone, with nothing to be held against what happens."""
        held = (self.turn, self.circle, self.track, self.pylon, self.altitude, self.speed)
        return self.time is not None and all(one is None for one in held)

    @property
    def by_attitude(self) -> bool:
        """Whether bank and pitch attitude are all that it moves, by the clock."""
        return self.scheduled and self.path is None
