"""When a leg is over."""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import ConfigDict

from coach.script.reading import Sheet
from coach.script.targets import Open, OpenLength, OpenTurn, Target, TargetLength, TargetSpeed
from coach.script.ways import Goal


@dataclass(frozen=True)
class After:
    """So many seconds from its beginning."""

    time: Open


@dataclass(frozen=True)
class Turned:
    """At a heading change from the beginning of the loop."""

    angle: Open


@dataclass(frozen=True)
class AtSpeed:
    """At an indicated airspeed."""

    speed: Target


@dataclass(frozen=True)
class AtAltitude:
    """At an altitude above sea level."""

    altitude: Target


@dataclass(frozen=True)
class AtHeight:
    """At a height above the ground."""

    height: Open


@dataclass(frozen=True)
class Gone:
    """So far over the ground from its beginning."""

    distance: Open


@dataclass(frozen=True)
class Ahead:
    """So far ahead of the beginning of the loop, along its heading."""

    distance: Open


@dataclass(frozen=True)
class Stalled:
    """At the greatest lift of the wing."""


Ending = After | Goal | Turned | AtSpeed | AtAltitude | AtHeight | Gone | Ahead | Stalled
"""What ends a leg; a goal does when the wings are level there."""


class Until(Sheet):
    """What ends a leg: one of these comes true.

    ``turned`` counts from the beginning of the loop, ``distance`` over the ground from that of the
    leg; ``ahead`` is how far ahead of the beginning of the loop, along its heading, passed as it is
    flown when the leg begins; ``height`` is above the ground; ``stall`` is the greatest lift of the
    wing.
    """

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    turned: OpenTurn | None = None
    speed: TargetSpeed | None = None
    altitude: TargetLength | None = None
    height: OpenLength | None = None
    distance: OpenLength | None = None
    ahead: OpenLength | None = None
    stall: bool | None = None

    @property
    def ending(self) -> Ending:
        """The one that is given."""
        if self.turned is not None:
            return Turned(self.turned)
        if self.speed is not None:
            return AtSpeed(self.speed)
        if self.altitude is not None:
            return AtAltitude(self.altitude)
        if self.height is not None:
            return AtHeight(self.height)
        if self.distance is not None:
            return Gone(self.distance)
        return Stalled() if self.ahead is None else Ahead(self.ahead)
