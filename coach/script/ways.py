"""The ways a leg can be flown: what its bank does, and what its nose does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from coach.script.quantities import DEGREE, Angle, Quantity
from coach.script.reading import Sheet
from coach.script.targets import Open, OpenAngle, OpenTurn, Target


class Change(Sheet):
    """How bank, pitch attitude or flight path moves over a leg to its end value.

    It moves smoothly through the ends of all legs that follow one another by the clock, and turns
    back only there. ``halfway`` is its value after half of the leg, where the leg's ends do not say
    enough. ``steady`` moves it at a constant rate, but for a moment at either end.
    """

    to: OpenAngle
    halfway: OpenAngle | None = None
    steady: bool = False


@dataclass(frozen=True)
class Goal:
    """Where the wings are level again: an angle, and what it is counted from.

    That is the heading at the beginning of the ``leg`` or of the ``loop``; or the loop's course
    over the ``ground``, and then it is a course as well: the heading allows for the wind.
    """

    counted: Literal["leg", "loop", "ground"]
    angle: Open


class Turn(Sheet):
    """Roll in, hold the bank, and roll out so that the wings are level after an angle.

    The turn is as steep as its ``bank``, or as its ``rate``, an angle a second, asks for.
    ``through`` counts from the heading at the beginning of the leg, ``to`` from that at the
    beginning of the loop. ``onto`` is a course over the ground, counted from the loop's; the
    heading allows for the wind. With none of them the bank is held until the leg is over.
    """

    bank: OpenAngle | None = None
    rate: Annotated[float, Quantity("angle", "0.5 deg", "10 deg")] | None = None
    through: OpenTurn | None = None
    to: OpenTurn | None = None
    onto: OpenTurn | None = None

    @property
    def goal(self) -> Goal | None:
        """Where it ends, if by itself."""
        if self.through is not None:
            return Goal("leg", self.through)
        if self.to is not None:
            return Goal("loop", self.to)
        return None if self.onto is None else Goal("ground", self.onto)


class Circle(Sheet):
    """Keep a constant radius about a point on the ground, however the wind blows.

    The point lies abeam when the roll-in is over, as far away as the steepest bank asks for at the
    greatest groundspeed that the wind can give. ``to`` ends it with the wings level on a course
    over the ground, counted from the beginning of the loop; the heading allows for the wind.
    """

    steepest: Annotated[float, Quantity("angle", "3 deg", "60 deg")]
    to: OpenTurn | None = None

    @property
    def goal(self) -> Goal | None:
        """Where it ends, if by itself."""
        return None if self.to is None else Goal("ground", self.to)


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
    to: OpenTurn | None = None

    @property
    def goal(self) -> Goal | None:
        """Where it ends, if by itself."""
        return None if self.to is None else Goal("loop", self.to)


@dataclass(frozen=True)
class Pitch:
    """The pitch attitude changes by the clock."""

    change: Change


@dataclass(frozen=True)
class Path:
    """The flight path changes: by the clock, or as fast as a pilot moves the nose."""

    change: Change


@dataclass(frozen=True)
class Hold:
    """An altitude is kept, or come to."""

    altitude: Target


Sideways = Change | Turn | Circle | Track | Pylon
"""What the bank does over a leg; a change is by the clock."""

Upright = Pitch | Path | Hold
"""What the nose does over a leg."""
