"""A leg's laws: each made once where the leg begins, then asked again and again on the way.

`sideways` says the bank that is wanted, `altitude` the altitude, and `over` how far the leg is from
its end. What a pilot would do in one instant is in `guidance`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.flight import guidance
from coach.flight.sortie import Aircraft, Sortie
from coach.script.legs import Leg, Until
from coach.script.quantities import DEGREE, STANDARD_GRAVITY
from coach.script.targets import parse_target

Law = Callable[[Aircraft], float]

LEVEL = 0.3 * DEGREE
"""A turn is over when its bank is less."""

CATCH_UP = 4.0 * DEGREE
"""Bank beyond a circle's steepest that a pilot uses to get back to it."""


def sideways(
    sortie: Sortie, craft: Aircraft, leg: Leg, side: int, loop: Aircraft, step: float
) -> Law:
    """The law that says the bank; ``loop`` is where the loop began."""
    wind, start, origin = sortie.conditions.wind, craft.state.heading, craft.position
    if leg.turn is not None:
        law, fixed = leg.turn, sortie.value("angle", leg.turn.bank or "0 deg")

        def steepest(here: Aircraft) -> float:
            if law.rate is None:
                return fixed
            return guidance.bank_for_rate(here.state.speed, law.rate)

        if law.through is None and law.to is None and law.onto is None:
            return lambda here: side * steepest(here)
        goal = _turn_goal(sortie, craft, leg, side, loop)
        return _rolling_out(sortie, goal, start, steepest, step)
    if leg.track is not None:
        course, most = sortie.ground_course(loop) + side * leg.track.course, leg.track.most

        def tracking(here: Aircraft) -> float:
            east, north = here.position[0] - origin[0], here.position[1] - origin[1]
            offset = east * math.cos(course) - north * math.sin(course)
            return guidance.track_bank(
                offset, course, here.state.heading, here.state.speed, wind, most
            )

        return tracking
    around = leg.circle or leg.pylon
    if around is not None:
        about = _about_a_point(sortie, craft, leg, side, loop)
        if around.to is None:
            return about
        goal = _turn_goal(sortie, craft, leg, side, loop)
        return _rolling_out(sortie, goal, start, lambda here: side * about(here), step)
    # What a turn has left of its bank is taken out.
    kept = 0.0 if abs(craft.bank) < 2.0 * LEVEL else craft.bank
    return lambda here: kept


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


def _about_a_point(sortie: Sortie, craft: Aircraft, leg: Leg, side: int, loop: Aircraft) -> Law:
    """A circle of constant radius, or a pylon on the wing tip."""
    wind = sortie.conditions.wind
    speed, heading = craft.state.speed, craft.state.heading
    velocity = guidance.over_ground(speed, heading, craft.state.path, wind)
    fast, roll_rate = math.hypot(*velocity), sortie.maneuver.roll_rate
    way = math.atan2(*velocity)
    if leg.pylon is not None:
        away, most = fast**2 / (STANDARD_GRAVITY * math.tan(leg.pylon.steepest)), 0.0
        abeam, into = heading, leg.pylon.steepest
    else:
        assert leg.circle is not None
        fastest = speed + math.hypot(*wind)
        away = guidance.turn_radius(fastest, leg.circle.steepest)
        most = leg.circle.steepest + CATCH_UP
        abeam, into = way, math.atan(fast**2 / (away * STANDARD_GRAVITY))
    roll_in = ahead = guidance.roll_in_way(fast, into - side * craft.bank, roll_rate)
    if leg.circle is not None and leg.circle.to is not None:
        # Rolling out may take a longer way: then the circle begins so much later that a half
        # circle has its wings level again on the line where it began.
        course = craft.state.heading + _turn_goal(sortie, craft, leg, side, loop)
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
        if leg.pylon is not None:
            return guidance.pylon_bank(
                here.position, velocity, here.state.heading, here.state.speed, centre, side
            )
        return guidance.circle_bank(
            here.position, velocity, here.state.heading, centre, away, side, most
        )

    return about


def altitude(sortie: Sortie, leg: Leg, craft: Aircraft) -> Law | None:
    """The law that says the altitude to hold, or None."""
    if leg.altitude is None:
        return None
    target = parse_target("length", leg.altitude)
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
    level = base.get(target.base or "", 0.0) + target.offset
    return lambda here: level


def over(sortie: Sortie, craft: Aircraft, leg: Leg, side: int, loop: Aircraft) -> Law:
    """How far a leg is from being over; zero or less when it is."""
    start, began = craft.state.heading, craft.time
    if leg.time is not None:
        over = began + sortie.value("time", leg.time)
        return lambda here: over - here.time
    if leg.until is None:
        goal = _turn_goal(sortie, craft, leg, side, loop)
        way = 1 if goal >= 0.0 else -1

        def turned_out(here: Aircraft) -> float:
            left = way * (goal - (here.state.heading - start))
            level = way * here.bank - LEVEL
            # Over when the wings come level again, which is near the goal and not at the start.
            return level if left < 0.25 * abs(goal) + 0.05 else max(level, 1e-3)

        return turned_out
    return _until(sortie, leg.until, craft, side, loop)


def _until(sortie: Sortie, until: Until, craft: Aircraft, side: int, loop: Aircraft) -> Law:
    """How far from what an ``until`` names, in its own unit, towards it from here."""
    day = sortie.conditions
    if until.turned is not None:
        wanted = sortie.value("turned", until.turned)
        return _approach(
            craft, lambda here: side * (here.state.heading - loop.state.heading), wanted
        )
    if until.speed is not None:
        return _approach(
            craft, lambda here: sortie.indicated(here.state), sortie.speed(until.speed)
        )
    if until.altitude is not None:
        level = altitude(sortie, Leg(name="-", altitude=until.altitude), craft)
        assert level is not None
        return _approach(craft, lambda here: here.state.altitude, level(craft))
    if until.height is not None:
        wanted = day.ground + sortie.value("length", until.height)
        return _approach(craft, lambda here: here.state.altitude, wanted)
    if until.distance is not None:
        wanted = sortie.value("length", until.distance)
        origin = craft.position
        return lambda here: wanted - math.dist(here.position, origin)
    if until.ahead is not None:
        wanted = sortie.value("length", until.ahead)
        course = sortie.ground_course(loop)
        east, north = math.sin(course), math.cos(course)
        x, y = loop.position
        velocity = guidance.over_ground(*craft.state[:2], craft.state.path, day.wind)
        way = 1.0 if velocity[0] * east + velocity[1] * north >= 0.0 else -1.0

        def beyond(here: Aircraft) -> float:
            gone = (here.position[0] - x) * east + (here.position[1] - y) * north
            return way * (wanted - gone)

        return beyond
    return lambda here: sortie.performance.greatest_lift - _lift(sortie, here)


def _turn_goal(sortie: Sortie, craft: Aircraft, leg: Leg, side: int, loop: Aircraft) -> float:
    """Heading change from the leg's start at which its turn is to end, right positive."""
    if leg.turn is not None and leg.turn.through is not None:
        return side * sortie.value("turned", leg.turn.through)
    law = leg.turn or leg.pylon
    if law is not None and law.to is not None:
        return loop.state.heading + side * sortie.value("turned", law.to) - craft.state.heading
    onto = leg.circle.to if leg.circle else leg.turn and leg.turn.onto
    course = sortie.ground_course(loop) + side * sortie.value("turned", onto or "")
    crab = guidance.crab_angle(course, craft.state.speed, sortie.conditions.wind)
    return course + crab - craft.state.heading


def _lift(sortie: Sortie, craft: Aircraft) -> float:
    if craft.by_path:
        return craft.machine.by_path(craft.state, craft.bank, 0.0).lift_coefficient
    return craft.machine.by_attitude(craft.state, craft.bank, craft.nose).lift_coefficient


def _approach(craft: Aircraft, value: Law, wanted: float) -> Law:
    """How far a value is from a wanted one, positive on the side where it is now."""
    sign = 1.0 if value(craft) <= wanted else -1.0
    return lambda here: sign * (wanted - value(here))
