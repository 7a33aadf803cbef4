"""How far a turn, a way or a value is from its end, asked again and again on the way there."""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.flight import guidance
from coach.flight.sortie import Aircraft, Sortie
from coach.script.quantities import DEGREE
from coach.script.ways import Goal

Law = Callable[[Aircraft], float]
"""What a pilot wants in one instant."""

LEVEL = 0.3 * DEGREE
"""A turn is over when its bank is less."""


def turned_out(sortie: Sortie, craft: Aircraft, ending: Goal, side: int, loop: Aircraft) -> Law:
    """How far from wings level on a heading."""
    start, goal = craft.state.azimuth, heading_change(sortie, craft, ending, side, loop)
    way = sign(goal)

    def turned_out(here: Aircraft) -> float:
        left = way * (goal - (here.state.azimuth - start))
        level = way * here.bank - LEVEL
        # Over when the wings come level again, which is near the goal and not at the start.
        return level if left < 0.25 * abs(goal) + 0.05 else max(level, 1e-3)

    return turned_out


def passed(sortie: Sortie, craft: Aircraft, wanted: float, loop: Aircraft) -> Law:
    """How far from a line square to the loop's course, so far ahead of its beginning."""
    course = sortie.ground_course(loop)
    east, north = math.sin(course), math.cos(course)
    x, y = loop.position
    velocity = guidance.over_ground(*craft.state[:2], craft.state.path, sortie.conditions.wind)
    way = 1.0 if velocity[0] * east + velocity[1] * north >= 0.0 else -1.0

    def beyond(here: Aircraft) -> float:
        gone = (here.position[0] - x) * east + (here.position[1] - y) * north
        return way * (wanted - gone)

    return beyond


def heading_change(sortie: Sortie, craft: Aircraft, goal: Goal, side: int, loop: Aircraft) -> float:
    """Heading change from the leg's start at which its turn is to end, right positive."""
    angle = side * sortie.value(goal.angle)
    match goal.counted:
        case "leg":
            return angle
        case "loop":
            return loop.state.azimuth + angle - craft.state.azimuth
        case "ground":
            course = sortie.ground_course(loop) + angle
            crab = guidance.crab_angle(course, craft.state.speed, sortie.conditions.wind)
            return course + crab - craft.state.azimuth


def sign(change: float) -> int:
    """The side of a heading change."""
    return 1 if change >= 0.0 else -1


def approach(craft: Aircraft, value: Law, wanted: float) -> Law:
    """How far a value is from a wanted one, positive on the side where it is now."""
    sign = 1.0 if value(craft) <= wanted else -1.0
    return lambda here: sign * (wanted - value(here))
