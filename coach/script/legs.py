"""How a script writes a leg: what bank, nose, speed and power do, and when it is over.

Where a value is a text, it may be a quantity or the name of an unknown that the planner finds.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from coach.script.quantities import Angle, Length, Share
from coach.script.reading import Sheet

Word = Annotated[str, Field(min_length=1, max_length=60)]

MANNERS = {"steady": (1.0, 1.0), "eased": (0.0, 0.0), "prompt": (2.0, 0.0), "late": (0.0, 2.0)}
"""How a change begins and ends: its rate there, as a multiple of the steady rate."""

POWERS = ("idle", "full", "as needed")
"""Powers with a name; ``as needed`` is what holds the leg's speed."""


class Change(Sheet):
    """How bank, pitch attitude or flight path moves over a leg to its end value.

    ``steady`` at a constant rate; ``eased`` slow at both ends; ``prompt`` quick at first, then ever
    slower; ``late`` the reverse. ``rates`` says the same in numbers: how fast the change goes at
    its beginning and at its end, as multiples of the steady rate, each 0 to 3. ``halfway`` is how
    much of it is done after half the leg, where that is not what the rates give by themselves.
    """

    to: str
    how: Literal["steady", "eased", "prompt", "late"] = "eased"
    rates: tuple[str, str] | None = None
    halfway: Annotated[Share, Field(ge=0.1, le=0.9)] | None = None


class Turn(Sheet):
    """Roll in, hold the bank, and roll out so that the wings are level after an angle.

    ``through`` counts from the beginning of the leg, ``to`` from the beginning of the loop. With
    neither the bank is held until the leg is over.
    """

    bank: str
    through: str | None = None
    to: str | None = None


class Circle(Sheet):
    """Keep a constant radius about a point on the ground, however the wind blows.

    The point lies abeam when the leg begins, as far away as its steepest bank asks for.
    """

    steepest: Annotated[Angle, Field(gt=0.05, le=1.05)]


class Track(Sheet):
    """Follow a line on the ground that begins where the leg begins, crabbing into the wind.

    The course counts from the entry heading, positive to the first side.
    """

    course: Angle
    most: Annotated[Angle, Field(gt=0.05, le=0.8)] = 0.5236


class Pylon(Sheet):
    """Keep a point on the ground exactly off the wing tip; it lies abeam when the leg begins."""

    away: Annotated[Length, Field(ge=150.0, le=3000.0)]


class Until(Sheet):
    """What ends a leg: one of these comes true.

    ``turned`` counts from the beginning of the loop, ``distance`` over the ground from that of the
    leg; ``height`` is above the ground; ``stall`` is the greatest lift of the wing.
    """

    turned: str | None = None
    speed: str | None = None
    altitude: str | None = None
    height: str | None = None
    distance: str | None = None
    stall: bool | None = None


class Leg(Sheet):
    """One stretch of a loop. What it does not mention stays as it is.

    Sideways it changes its ``bank`` or flies a ``turn``, ``circle``, ``track`` or ``pylon``; up and
    down it changes ``pitch`` or ``path`` or holds an ``altitude``. A ``speed`` is held with the
    power where that is ``as needed``, and with the nose where it is set.
    """

    name: Word
    time: str | None = None
    until: Until | None = None
    bank: Change | None = None
    turn: Turn | None = None
    circle: Circle | None = None
    track: Track | None = None
    pylon: Pylon | None = None
    pitch: Change | None = None
    path: Change | None = None
    altitude: str | None = None
    speed: str | None = None
    power: str | None = None

    @property
    def scheduled(self) -> bool:
        """Whether it runs by the clock alone, with nothing to be held against what happens."""
        held = (self.turn, self.circle, self.track, self.pylon, self.altitude, self.speed)
        return self.time is not None and all(one is None for one in held)
