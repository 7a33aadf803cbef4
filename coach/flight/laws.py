"""A leg's laws: each made once where the leg begins, then asked again and again on the way.

`sideways` says the bank that is wanted, `nose` the flight path, and `over` how far the leg is from
its end. What a pilot would do in one instant is in `guidance`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.flight import guidance
from coach.flight.sortie import Aircraft, Sortie
from coach.script.endings import (
    After,
    Ahead,
    AtAltitude,
    AtHeight,
    AtSpeed,
    Ending,
    Gone,
    Stalled,
    Turned,
)
from coach.script.legs import Leg
from coach.script.quantities import DEGREE, STANDARD_GRAVITY
from coach.script.targets import Target
from coach.script.ways import Change, Circle, Goal, Hold, Path, Pylon, Sideways, Track, Turn

Law = Callable[[Aircraft], float]

LEVEL = 0.3 * DEGREE
"""A turn is over when its bank is less."""

CATCH_UP = 4.0 * DEGREE
"""Bank beyond a circle's steepest that a pilot uses to get back to it."""


def sideways(
    sortie: Sortie, craft: Aircraft, way: Sideways | None, side: int, loop: Aircraft, step: float
) -> Law:
    """The law that says the bank; ``loop`` is where the loop began."""
    match way:
        case Turn():
            law = _turning(sortie, way, side)
        case Circle() | Pylon():
            law = _about_a_point(sortie, craft, way, side, loop)
        case Track():
            return _tracking(sortie, craft, way, side, loop)
        case None | Change():
            # What a turn has left of its bank is taken out.
            kept = 0.0 if abs(craft.bank) < 2.0 * LEVEL else craft.bank
            return lambda here: kept
    if way.goal is None:
        return law
    goal = _heading_change(sortie, craft, way.goal, side, loop)
    return _rolling_out(sortie, goal, craft.state.heading, lambda here: side * law(here), step)


def _turning(sortie: Sortie, turn: Turn, side: int) -> Law:
    """A turn at a bank, or at a rate."""
    rate = turn.rate
    if rate is not None:
        return lambda here: side * guidance.bank_for_rate(here.state.speed, rate)
    steepest = 0.0 if turn.bank is None else sortie.value(turn.bank)
    return lambda here: side * steepest


def _tracking(sortie: Sortie, craft: Aircraft, track: Track, side: int, loop: Aircraft) -> Law:
    """A line on the ground through where the leg begins."""
    course, origin = sortie.ground_course(loop) + side * track.course, craft.position

    def tracking(here: Aircraft) -> float:
        east, north = here.position[0] - origin[0], here.position[1] - origin[1]
        offset = east * math.cos(course) - north * math.sin(course)
        return guidance.track_bank(
            offset, course, here.state.heading, here.state.speed, sortie.conditions.wind, track.most
        )

    return tracking


def _rolling_out(sortie: Sortie, goal: float, start: float, steepest: Law, step: float) -> Law:
    """The law of a turn that ends with the wings level on a heading."""
    way = 1 if goal >= 0.0 else -1

    def turning(here: Aircraft) -> float:
        left = way * (goal - (here.state.heading - start))
        return way * guidance.turn_bank(
            left, here.state.speed, way * here.bank, steepest(here),
            sortie.maneuver.roll_rate, step,
        )  # fmt: skip

    return turning


def _about_a_point(
    sortie: Sortie, craft: Aircraft, around: Circle | Pylon, side: int, loop: Aircraft
) -> Law:
    """A circle of constant radius, or a pylon on the wing tip."""
    wind = sortie.conditions.wind
    speed, heading = craft.state.speed, craft.state.heading
    velocity = guidance.over_ground(speed, heading, craft.state.path, wind)
    fast, roll_rate = math.hypot(*velocity), sortie.maneuver.roll_rate
    way = math.atan2(*velocity)
    steepest = around.steepest
    if isinstance(around, Pylon):
        away = fast**2 / (STANDARD_GRAVITY * math.tan(steepest))
        abeam, into = heading, steepest
    else:
        away = guidance.turn_radius(speed + math.hypot(*wind), steepest)
        abeam, into = way, math.atan(fast**2 / (away * STANDARD_GRAVITY))
    roll_in = ahead = guidance.roll_in_way(fast, into - side * craft.bank, roll_rate)
    if isinstance(around, Circle) and around.goal is not None:
        # Rolling out may take a longer way: then the circle begins so much later that a half
        # circle has its wings level again on the line where it began.
        course = craft.state.heading + _heading_change(sortie, craft, around.goal, side, loop)
        out = math.hypot(*guidance.over_ground(speed, course, 0.0, wind))
        bank = math.atan(out**2 / (away * STANDARD_GRAVITY))
        ahead = max(roll_in, guidance.roll_in_way(out, bank, roll_rate))
    abeam += side * math.pi / 2.0
    centre = (
        craft.position[0] + away * math.sin(abeam) + ahead * math.sin(way),
        craft.position[1] + away * math.cos(abeam) + ahead * math.cos(way),
    )

    def about(here: Aircraft) -> float:
        east, north = centre[0] - here.position[0], centre[1] - here.position[1]
        straight = abs(here.state.heading - heading) < 3.0 * DEGREE
        if straight and east * math.sin(way) + north * math.cos(way) > roll_in:
            return 0.0
        velocity = guidance.over_ground(*here.state[:2], here.state.path, wind)
        if isinstance(around, Pylon):
            return guidance.pylon_bank(
                here.position, velocity, here.state.heading, here.state.speed, centre, side
            )
        return guidance.circle_bank(
            here.position, velocity, here.state.heading, centre, away, side,
            steepest + CATCH_UP,
        )  # fmt: skip

    return about


def nose(sortie: Sortie, craft: Aircraft, leg: Leg, speed: Law) -> Law | None:
    """The law that says the flight path, with the ``speed`` to hold; None: it stays as it is."""
    match leg.upright:
        case Hold(target):
            wanted = _altitude(sortie, craft, target)
            return lambda here: guidance.altitude_path(
                here.state.altitude, wanted(here), here.state.speed
            )
        case Path(change):
            path = sortie.value(change.to)
            return lambda here: path
    if leg.speed is None:
        return None
    return lambda here: guidance.speed_path(here.machine, here.state, here.bank, speed(here))


def _altitude(sortie: Sortie, craft: Aircraft, target: Target) -> Law:
    """The law that says the altitude to hold."""
    day = sortie.conditions
    if target.base == "pivotal":

        def pivotal(here: Aircraft) -> float:
            velocity = guidance.over_ground(*here.state[:2], here.state.path, day.wind)
            return day.ground + guidance.pivotal_altitude(math.hypot(*velocity))

        last = (craft.time, pivotal(craft), 0.0)

        def leading(here: Aircraft) -> float:
            nonlocal last
            # It moves with the groundspeed: aim where it will be, not to trail behind it.
            now, (then, was, rate) = pivotal(here), last
            if here.time > then:
                # A pilot sees a trend over a second or so, not from one moment to the next.
                rate += 0.07 * ((now - was) / (here.time - then) - rate)
            last = (here.time, now, rate)
            return now + guidance.OFFSET_TIME * rate

        return leading
    base = {"entry": day.altitude, "start": craft.state.altitude, "ground": day.ground}
    level = target.of(base.get(target.base or "", 0.0))
    return lambda here: level


def over(sortie: Sortie, craft: Aircraft, ending: Ending, side: int, loop: Aircraft) -> Law:
    """How far a leg is from being over, each in its own unit; zero or less when it is."""
    match ending:
        case After(time):
            over = craft.time + sortie.value(time)
            return lambda here: over - here.time
        case Goal():
            return _turned_out(sortie, craft, ending, side, loop)
        case Turned(angle):
            start = loop.state.heading
            return _approach(
                craft, lambda here: side * (here.state.heading - start), sortie.value(angle)
            )
        case AtSpeed(speed):
            return _approach(craft, lambda here: sortie.indicated(here.state), sortie.speed(speed))
        case AtAltitude(altitude):
            level = _altitude(sortie, craft, altitude)(craft)
            return _approach(craft, lambda here: here.state.altitude, level)
        case AtHeight(height):
            level = sortie.conditions.ground + sortie.value(height)
            return _approach(craft, lambda here: here.state.altitude, level)
        case Gone(distance):
            wanted, origin = sortie.value(distance), craft.position
            return lambda here: wanted - math.dist(here.position, origin)
        case Ahead(distance):
            return _passed(sortie, craft, sortie.value(distance), loop)
        case Stalled():
            return lambda here: sortie.performance.greatest_lift - _lift(here)


def _turned_out(sortie: Sortie, craft: Aircraft, ending: Goal, side: int, loop: Aircraft) -> Law:
    """How far from wings level on a heading."""
    start, goal = craft.state.heading, _heading_change(sortie, craft, ending, side, loop)
    way = 1 if goal >= 0.0 else -1

    def turned_out(here: Aircraft) -> float:
        left = way * (goal - (here.state.heading - start))
        level = way * here.bank - LEVEL
        # Over when the wings come level again, which is near the goal and not at the start.
        return level if left < 0.25 * abs(goal) + 0.05 else max(level, 1e-3)

    return turned_out


def _passed(sortie: Sortie, craft: Aircraft, wanted: float, loop: Aircraft) -> Law:
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


def _heading_change(
    sortie: Sortie, craft: Aircraft, goal: Goal, side: int, loop: Aircraft
) -> float:
    """Heading change from the leg's start at which its turn is to end, right positive."""
    angle = side * sortie.value(goal.angle)
    match goal.counted:
        case "leg":
            return angle
        case "loop":
            return loop.state.heading + angle - craft.state.heading
        case "ground":
            course = sortie.ground_course(loop) + angle
            crab = guidance.crab_angle(course, craft.state.speed, sortie.conditions.wind)
            return course + crab - craft.state.heading


def _lift(craft: Aircraft) -> float:
    if craft.by_path:
        return craft.machine.by_path(craft.state, craft.bank, 0.0).lift_coefficient
    return craft.machine.by_attitude(craft.state, craft.bank, craft.nose).lift_coefficient


def _approach(craft: Aircraft, value: Law, wanted: float) -> Law:
    """How far a value is from a wanted one, positive on the side where it is now."""
    sign = 1.0 if value(craft) <= wanted else -1.0
    return lambda here: sign * (wanted - value(here))
