"""What a maneuver is flown by on the ground: a point, pylons, a line, a field, a runway."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from coach.flight.flight import Flight
from coach.flight.history import Floats, Span
from coach.script.legs import Leg
from coach.script.quantities import FOOT

LINE_FT = 20_000.0
"""How far a line goes on beyond the track at either end: as far as a road can be seen."""

NEAR_FT = 100.0
"""A leg that ends so near to a line ends on it."""

RUNWAY_FT = (-700.0, 2300.0)
"""Where a runway begins and ends, counted from the touchdown: a guess, no script says it."""


@dataclass(frozen=True)
class GroundReference:
    """Something on the ground.

    Attributes:
        name: what a pilot calls it.
        corners: east and north of the first moment, ft: one of a point, two of a line or a runway
            (the threshold first), more of a field.
    """

    name: Literal["point", "pylon", "line", "field", "runway"]
    corners: tuple[tuple[float, float], ...]


def by_the_ground(flight: Flight) -> bool:
    """Whether a leg keeps to something on the ground, so that the track is what counts."""
    return any(leg.circle or leg.track or leg.pylon for leg in flight.maneuver.legs)


def ground_references(flight: Flight) -> tuple[GroundReference, ...]:
    """Everything on the ground that the flight goes by, in the order in which it comes to it."""
    legs = {leg.name: leg for leg in flight.maneuver.legs}
    flown = [(span, legs[span.leg]) for span in flight.spans]
    corners = [_abeam(flight, span, leg) for span, leg in flown if leg.circle and span.loop == 1]
    if len(corners) > 2:  # the circles of one loop are the corners that it goes around
        return (GroundReference("field", tuple(corners)),)
    # Half circles are laid along a line; who comes back without any comes back to a fix.
    if corners and any(_comes_back(flight, span, leg) for span, leg in flown if span.loop == 1):
        return (_line(flight),)
    found = [
        GroundReference("pylon" if leg.pylon else "point", (_abeam(flight, span, leg),))
        for span, leg in flown
        if leg.circle or leg.pylon
    ]
    if flight.recorded("altitude")[-1] - flight.conditions.ground < FOOT:
        found.append(_runway(flight))
    return tuple(found)


def _abeam(flight: Flight, span: Span, leg: Leg) -> tuple[float, float]:
    """The point that a leg goes around.

    Around a pylon it lies square to the flight path through the air, on a circle to the track over
    the ground: where those lines meet (linear least squares), away from rolling in and out.
    """
    time, part = flight.recorded("time"), 0.2 * (span.end_s - span.start_s)
    chosen = (time >= span.start_s + part) & (time <= span.end_s - part)
    azimuth = flight.recorded("azimuth")
    east, north = flight.history.over_ground
    along = azimuth if leg.pylon else np.arctan2(east, north)
    lines = np.column_stack([np.sin(along), np.cos(along)])[chosen]
    places = np.column_stack(flight.history.position)[chosen]
    found, *_ = np.linalg.lstsq(lines, (lines * places).sum(axis=1), rcond=None)
    return float(found[0]) / FOOT, float(found[1]) / FOOT


def _comes_back(flight: Flight, span: Span, leg: Leg) -> bool:
    """Whether a leg is over where it comes to the line on which the flight began."""
    if leg.until is None or leg.until.ahead is None:
        return False
    ahead = np.interp(span.end_s, flight.recorded("time"), flight.history.ahead)
    return abs(float(ahead)) < NEAR_FT * FOOT


def _line(flight: Flight) -> GroundReference:
    """The line through the first moment, square to the entry heading."""
    heading = flight.conditions.heading
    across = np.array([math.cos(heading), -math.sin(heading)])
    reached = np.column_stack(flight.history.position) @ across / FOOT
    ends = (float(reached.min()) - LINE_FT, float(reached.max()) + LINE_FT)
    return GroundReference("line", _ends(np.zeros(2), across, ends))


def _runway(flight: Flight) -> GroundReference:
    """The runway of a landing, through its last moment along its last track."""
    touchdown = np.array([one[-1] for one in flight.history.position]) / FOOT
    velocity = np.array([one[-1] for one in flight.history.over_ground])
    along = velocity / np.hypot(*velocity)
    return GroundReference("runway", _ends(touchdown, along, RUNWAY_FT))


def _ends(place: Floats, way: Floats, ends: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """Two places so far from one along a way."""
    return tuple((float(east), float(north)) for east, north in (place + end * way for end in ends))
