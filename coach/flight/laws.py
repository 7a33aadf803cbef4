"""A leg's laws: each made once where the leg begins, then asked again and again on the way.

`rolling` and `pitching` say how the hand moves bank and nose in the next step, and `over` how far
the leg is from its end. What a pilot wants in one instant is in `guidance`, how fast the hand is in
`handling`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.flight import guidance
from coach.flight.curve import Curve
from coach.flight.ends import LEVEL, Law, approach, heading_change, passed, sign, turned_out
from coach.flight.handling import NOSE, PATH
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
from coach.script.ways import Change, Circle, Goal, Hold, Path, Pylon, Track, Turn

Move = Callable[[Aircraft, float], float]
"""How fast the hand moves after a step of so many seconds."""

DRIFT = 3.0 * DEGREE
"""A wanted bank that changes faster than this in a second has been changed, and is not drifting."""

CATCH_UP = 4.0 * DEGREE
"""Bank beyond a circle's steepest that a pilot uses to get back to it."""


def rolling(sortie: Sortie, craft: Aircraft, leg: Leg, side: int, loop: Aircraft) -> Move:
    """The law that says how it rolls; ``loop`` is where the loop began."""
    goal = getattr(leg.sideways, "goal", None)
    change = None if goal is None else heading_change(sortie, craft, goal, side, loop)
    match way := leg.sideways:
        case Turn():
            to = side if change is None else sign(change)
            law = _following(sortie, _turning(sortie, way, to))
        case Circle() | Pylon():
            law = _following(sortie, _about_a_point(sortie, craft, way, side, loop))
        case Track():
            return _following(sortie, _tracking(sortie, craft, way, side, loop))
        case Change():
            return _by_the_clock(sortie, craft, sortie.banking(craft, leg, side))
        case None:
            # What a turn has left of its bank is taken out.
            kept = 0.0 if abs(craft.bank) < 2.0 * LEVEL else craft.bank
            return _following(sortie, lambda here: kept)
    if change is None:
        return law
    return _rolling_out(sortie, change, craft.state.azimuth, law)


def _following(sortie: Sortie, bank: Law) -> Move:
    """The bank that a law wants, followed by the hand."""
    last: tuple[float, float] | None = None

    def following(here: Aircraft, step: float) -> float:
        nonlocal last
        wanted, drift = bank(here), 0.0
        if last is not None:
            drift = (wanted - last[1]) / (here.time - last[0])
        last = here.time, wanted
        if abs(drift) > DRIFT:
            drift = 0.0
        return sortie.roll.next_rate(wanted - here.bank, here.roll, step, drift)

    return following


def _by_the_clock(sortie: Sortie, craft: Aircraft, bank: Curve) -> Move:
    """A bank that changes by the clock."""
    hand = sortie.roll.along(bank)

    def following(here: Aircraft, step: float) -> float:
        gone = here.time - craft.time
        off = bank.at(gone)[0] - here.bank
        return hand.next_rate(off, here.roll, step, bank.at(gone + step)[1])

    return following


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
            offset, course, here.state.azimuth, here.state.speed, sortie.conditions.wind, track.most
        )

    return tracking


def _rolling_out(sortie: Sortie, goal: float, start: float, turning: Move) -> Move:
    """The law of a turn that ends with the wings level on a heading."""
    way = sign(goal)

    def rolling(here: Aircraft, step: float) -> float:
        left = way * (goal - (here.state.azimuth - start))
        return way * guidance.roll_out(
            left, here.state.speed, way * here.bank, way * here.roll, way * turning(here, step),
            sortie.roll, step,
        )  # fmt: skip

    return rolling


def _about_a_point(
    sortie: Sortie, craft: Aircraft, around: Circle | Pylon, side: int, loop: Aircraft
) -> Law:
    """A circle of constant radius, or a pylon on the wing tip."""
    wind = sortie.conditions.wind
    speed, heading = craft.state.speed, craft.state.azimuth
    velocity = guidance.over_ground(speed, heading, craft.state.path, wind)
    fast = math.hypot(*velocity)
    way = math.atan2(*velocity)
    steepest = around.steepest
    if isinstance(around, Pylon):
        height = guidance.pivotal_altitude(speed, guidance.along(velocity, heading))
        away = height / math.tan(steepest)
        abeam, into = heading, steepest
    else:
        away = guidance.turn_radius(speed + math.hypot(*wind), steepest)
        abeam, into = way, math.atan(fast**2 / (away * STANDARD_GRAVITY))
    roll_in = ahead = guidance.roll_in_way(fast, into - side * craft.bank, sortie.roll)
    if isinstance(around, Circle) and around.goal is not None:
        # Rolling out may take a longer way: then the circle begins so much later that a half
        # circle has its wings level again on the line where it began.
        course = craft.state.azimuth + heading_change(sortie, craft, around.goal, side, loop)
        out = math.hypot(*guidance.over_ground(speed, course, 0.0, wind))
        bank = math.atan(out**2 / (away * STANDARD_GRAVITY))
        ahead = max(roll_in, guidance.roll_in_way(out, bank, sortie.roll))
    abeam, beside = abeam + side * math.pi / 2.0, away
    if isinstance(around, Circle):
        beside += guidance.roll_in_shift(fast, away, into - side * craft.bank, sortie.roll)
    centre = (
        craft.position[0] + beside * math.sin(abeam) + ahead * math.sin(way),
        craft.position[1] + beside * math.cos(abeam) + ahead * math.cos(way),
    )

    def about(here: Aircraft) -> float:
        east, north = centre[0] - here.position[0], centre[1] - here.position[1]
        straight = abs(here.state.azimuth - heading) < 3.0 * DEGREE
        if straight and east * math.sin(way) + north * math.cos(way) > roll_in:
            return 0.0
        velocity = guidance.over_ground(*here.state[:2], here.state.path, wind)
        if isinstance(around, Pylon):
            return guidance.pylon_bank(
                here.position, velocity, here.state.azimuth, here.state.speed, centre, side
            )
        return guidance.circle_bank(
            here.position, velocity, here.state.azimuth, centre, away, side,
            steepest + CATCH_UP,
        )  # fmt: skip

    return about


def pitching(sortie: Sortie, craft: Aircraft, leg: Leg, speed: Law) -> Move:
    """The law that says how the nose moves, with the ``speed`` to hold."""
    bending = _bending(sortie, craft, leg, speed)
    hand, last = NOSE, None
    if leg.scheduled and leg.path is not None:
        hand = NOSE.along(sortie.path(craft, leg))

    def pitching(here: Aircraft, step: float) -> float:
        nonlocal last
        wrong = bending(here) - here.forces.path_rate
        off = wrong * here.machine.lag(here.state)
        wanted, drift = here.pitch + off, here.pitching
        if last is not None:
            drift = (wanted - last[1]) / (here.time - last[0])
        last = here.time, wanted
        return hand.next_rate(off, here.pitching, step, drift)

    def kept(here: Aircraft, step: float) -> float:
        return NOSE.next_rate(craft.pitch - here.pitch, here.pitching, step)

    says_nothing = leg.upright is None and leg.speed is None
    return kept if says_nothing and not craft.on_path else pitching


def _bending(sortie: Sortie, craft: Aircraft, leg: Leg, speed: Law) -> Law:
    """The law that says how fast the flight path changes."""

    def to(path: Law) -> Law:
        return lambda here: PATH.rate(path(here) - here.state.path)

    match leg.upright:
        case Hold(target):
            wanted = _altitude(sortie, craft, target, around=leg.pylon is not None)
            return to(
                lambda here: guidance.altitude_path(
                    here.state.altitude, wanted(here), here.state.speed
                )
            )
        case Path(change):
            if not leg.scheduled:
                path = sortie.value(change.to)
                return to(lambda here: path)
            curve = sortie.path(craft, leg)

            def bending(here: Aircraft) -> float:
                path, rate = curve.at(here.time - craft.time)
                return rate + PATH.rate(path - here.state.path)

            return bending
    if leg.speed is None:
        return to(lambda here: craft.state.path)
    return to(lambda here: guidance.speed_path(here.forces, here.state, speed(here)))


def _altitude(sortie: Sortie, craft: Aircraft, target: Target, *, around: bool = False) -> Law:
    """The law that says the altitude to hold; ``around`` a pylon it must not come late."""
    day = sortie.conditions
    if target.base == "pivotal":

        def pivotal(here: Aircraft) -> float:
            speed, heading, _, path = here.state
            along = guidance.along(guidance.over_ground(speed, heading, path, day.wind), heading)
            height = day.ground + guidance.pivotal_altitude(speed, along)
            if not around:
                return height
            # It moves with speed and heading, by the derivative of V x GS along / g: aim where it
            # will be, not to trail behind it.
            now = here.machine.by_path(here.state, here.bank, 0.0)
            across = guidance.along(day.wind, heading + math.pi / 2.0)
            faster = now.acceleration * (along + speed * math.cos(path))
            turned = speed * across * now.turn_rate
            rate = (faster + turned) / STANDARD_GRAVITY
            return height + guidance.OFFSET_TIME * rate

        return pivotal
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
            return turned_out(sortie, craft, ending, side, loop)
        case Turned(angle):
            start = loop.heading
            return approach(craft, lambda here: side * (here.heading - start), sortie.value(angle))
        case AtSpeed(speed):
            return approach(craft, lambda here: sortie.indicated(here.state), sortie.speed(speed))
        case AtAltitude(altitude):
            level = _altitude(sortie, craft, altitude)(craft)
            return approach(craft, lambda here: here.state.altitude, level)
        case AtHeight(height):
            level = sortie.conditions.ground + sortie.value(height)
            return approach(craft, lambda here: here.state.altitude, level)
        case Gone(distance):
            wanted, origin = sortie.value(distance), craft.position
            return lambda here: wanted - math.dist(here.position, origin)
        case Ahead(distance):
            return passed(sortie, craft, sortie.value(distance), loop)
        case Stalled():
            return lambda here: sortie.performance.greatest_lift - here.forces.lift_coefficient
