"""How a script writes a leg: what bank, nose, speed and power do, and when it is over.

Where a value is a text, it may be a quantity or the name of an unknown that the planner finds.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from coach.script.quantities import DEGREE, Angle, Quantity
from coach.script.reading import Sheet
from coach.script.targets import (
    OpenAngle,
    OpenLength,
    OpenNumber,
    OpenShare,
    OpenTime,
    TargetLength,
    TargetSpeed,
)

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

    to: OpenAngle
    how: Literal["steady", "eased", "prompt", "late"] = "eased"
    rates: tuple[OpenNumber, OpenNumber] | None = None
    halfway: Annotated[float, Quantity("share", "10 %", "90 %")] | None = None


class Turn(Sheet):
    """Roll in, hold the bank, and roll out so that the wings are level after an angle.

    The turn is as steep as its ``bank``, or as its ``rate``, an angle a second, asks for.
    ``through`` counts from the heading at the beginning of the leg, ``to`` from that at the
    beginning of the loop. ``onto`` is a course over the ground, counted from the loop's; the
    heading allows for the wind. With none of them the bank is held until the leg is over.
    """

    bank: OpenAngle | None = None
    rate: Annotated[float, Quantity("angle", "0.5 deg", "10 deg")] | None = None
    through: OpenAngle | None = None
    to: OpenAngle | None = None
    onto: OpenAngle | None = None


class Circle(Sheet):
    """Keep a constant radius about a point on the ground, however the wind blows.

    The point lies abeam when the roll-in is over, as far away as the steepest bank asks for at the
    greatest groundspeed that the wind can give. ``to`` ends it with the wings level on a course
    over the ground, counted from the beginning of the loop; the heading allows for the wind.
    """

    steepest: Annotated[float, Quantity("angle", "3 deg", "60 deg")]
    to: OpenAngle | None = None


class Track(Sheet):
    """Follow a line on the ground that begins where the leg begins, crabbing into the wind.

    The course counts from the entry heading, positive to the first side.
    """

    course: Angle
    most: Annotated[float, Quantity("angle", "3 deg", "45 deg")] = 30 * DEGREE


class Pylon(Sheet):
    """Keep a point on the ground exactly off the wing tip.

    It lies abeam when the roll-in is over, as far away as the bank there, its ``steepest``, asks
    for. ``to`` ends it with the wings level on a heading, counted from the beginning of the loop.
    """

    steepest: Annotated[float, Quantity("angle", "3 deg", "60 deg")]
    to: OpenAngle | None = None


class Until(Sheet):
    """What ends a leg: one of these comes true.

    ``turned`` counts from the beginning of the loop, ``distance`` over the ground from that of the
    leg; ``ahead`` is how far ahead of the beginning of the loop, along its heading, passed as it is
    flown when the leg begins; ``height`` is above the ground; ``stall`` is the greatest lift of the
    wing.
    """

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    turned: OpenAngle | None = None
    speed: TargetSpeed | None = None
    altitude: TargetLength | None = None
    height: OpenLength | None = None
    distance: OpenLength | None = None
    ahead: OpenLength | None = None
    stall: bool | None = None


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
    def scheduled(self) -> bool:
        """Whether it runs by the clock alone, with nothing to be held against what happens."""
        held = (self.turn, self.circle, self.track, self.pylon, self.altitude, self.speed)
        return self.time is not None and all(one is None for one in held)
