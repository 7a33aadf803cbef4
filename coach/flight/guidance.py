"""Guidance laws: what bank, flight path or power a pilot would set in one instant.

Pure functions in SI units and radians. Bank, turns and offsets are positive to the right; headings,
courses and the direction a wind blows from are clockwise from north; positions are (east, north)
metres over the ground; velocities likewise.
"""

from __future__ import annotations

import math

from coach.flight.handling import Hand
from coach.flight.motion import Forces, Machine, State
from coach.script.quantities import DEGREE, STANDARD_GRAVITY

Vector = tuple[float, float]

SPEED_TIME = 5.0
"""Seconds in which a pilot takes out most of a speed error (a model's guess)."""

SPEED_CHANGE = 0.08
"""How fast a pilot lets the speed change with the nose, in g: 1.5 kt a second (the same)."""

OFFSET_TIME = 6.0
"""Seconds in which an offset from a line, a circle or an altitude is taken out (the same).

For an altitude that is the usual lead of a level-off, a tenth of the feet climbed in a minute.
"""

STEEPEST_PATH = 25.0 * DEGREE
"""No law asks for a steeper climb or descent."""


def turn_rate(true_airspeed: float, bank: float) -> float:
    """Rate of a level turn, rad/s: g tan(bank) / V (FAA-H-8083-25 ch. 5)."""
    return STANDARD_GRAVITY * math.tan(bank) / true_airspeed


def turn_radius(true_airspeed: float, bank: float) -> float:
    """Radius of a level turn, m: V^2 / (g tan(bank)) (FAA-H-8083-25 ch. 5)."""
    return true_airspeed**2 / (STANDARD_GRAVITY * math.tan(bank))


def bank_for_rate(true_airspeed: float, rate: float) -> float:
    """Bank of a level turn at a rate of turn: the inverse of `turn_rate`."""
    return math.atan(rate * true_airspeed / STANDARD_GRAVITY)


def roll_out_lead(true_airspeed: float, bank: float, hand: Hand, roll: float = 0.0) -> float:
    """Heading that goes by while the wings are rolled level, rad: the integral of g tan(phi) / V.

    Args:
        true_airspeed: V.
        bank: bank now, positive.
        hand: what rolls: it takes up its rate, keeps it and ends it.
        roll: its rate now, positive where the bank still grows.
    """
    rate = max(hand.top(bank, roll), -roll, 1e-9)
    turned = _tangents(bank, roll, rate, hand.change, hand.brake)
    return STANDARD_GRAVITY * turned / true_airspeed


def _tangents(bank: float, roll: float, rate: float, first: float, last: float) -> float:
    """The tangent of the bank, integrated over a roll to level.

    The rate is taken up with one change and ended with another one. While it is steady the integral
    is ln(cos / cos) / rate; while it changes, Simpson's rule is good for it.
    """
    taking_up, left = (rate + roll) / first, 0.5 * rate**2 / last
    middle = bank + (0.5 * roll - 0.125 * first * taking_up) * taking_up
    begun = bank + (roll - 0.5 * first * taking_up) * taking_up
    found = (math.tan(bank) + 4.0 * math.tan(middle) + math.tan(begun)) * taking_up / 6.0
    if begun > left:
        found += math.log(math.cos(left) / math.cos(begun)) / rate
    return found + (math.tan(left) + 4.0 * math.tan(0.25 * left)) * rate / last / 6.0


def roll_in_way(speed: float, bank: float, hand: Hand) -> float:
    """How far a turn rolled into lies beyond one whose bank comes at once, m.

    A roll in is a roll out backwards. The heading changes as it does at full bank in a part of that
    time; the rest is flown straight ahead.
    """
    if bank <= 0.0:
        return 0.0
    turned = _tangents(bank, 0.0, hand.top(bank), hand.brake, hand.change)
    return speed * (hand.seconds(bank) - turned / math.tan(bank))


def roll_in_shift(speed: float, radius: float, bank: float, hand: Hand) -> float:
    """How far outside a circle that it is to follow a roll-in ends, m.

    A curvature that grows over a time T instead of at once shifts the track by V^2 T^2 / (24 R),
    the shift of a road's transition curve (any text on surveying).
    """
    return speed**2 * hand.seconds(bank) ** 2 / (24.0 * radius)


def roll_out(
    left: float, speed: float, bank: float, roll: float, wanted: float, hand: Hand, step: float
) -> float:
    """Roll rate after a step in a turn through an angle: the wanted one, then level just in time.

    It is the rate from which `roll_out_lead` is what will be left to turn.

    Args:
        left: heading still to turn, positive in the direction of the turn.
        speed: true airspeed.
        bank: bank now, positive in the direction of the turn.
        roll: its rate now.
        wanted: the rate after the step if the turn goes on.
        hand: what rolls.
        step: time until the next decision.
    """

    def over(rate: float) -> float:
        then = max(0.0, bank + 0.5 * (roll + rate) * step)
        turned = turn_rate(speed, 0.5 * (bank + then)) * step
        return left - turned - roll_out_lead(speed, then, hand, rate)

    if over(wanted) >= 0.0:
        return wanted
    most, least = wanted, hand.next_rate(-bank, roll, step)
    if over(least) <= 0.0:  # it is late: level as soon as may be
        return least
    for _ in range(12):
        middle = 0.5 * (least + most)
        least, most = (middle, most) if over(middle) > 0.0 else (least, middle)
    return least


def over_ground(true_airspeed: float, heading: float, path: float, wind: Vector) -> Vector:
    """Velocity over the ground: the airspeed's horizontal part and the wind's velocity added."""
    ahead = true_airspeed * math.cos(path)
    return ahead * math.sin(heading) + wind[0], ahead * math.cos(heading) + wind[1]


def along(velocity: Vector, heading: float) -> float:
    """The part of a velocity along a heading."""
    return velocity[0] * math.sin(heading) + velocity[1] * math.cos(heading)


def circle_bank(
    position: Vector, velocity: Vector, heading: float, centre: Vector, radius: float, side: int,
    most: float,
) -> float:  # fmt: skip
    """Bank that keeps a constant radius about a point on the ground in wind.

    Mechanics: the track curves with GS^2 / R; the lift's horizontal part is across the heading, so
    g tan(phi) cos(crab) = GS^2 / R. An offset from the circle is taken out gently.

    Args:
        position: where the airplane is.
        velocity: over the ground.
        heading: where it points.
        centre: the point.
        radius: to be kept.
        side: +1 for a circle to the right, -1 to the left.
        most: greatest bank.
    """
    east, north = position[0] - centre[0], position[1] - centre[1]
    away = math.hypot(east, north)
    speed = math.hypot(*velocity)
    outward = (velocity[0] * east + velocity[1] * north) / away
    crab = math.remainder(math.atan2(velocity[0], velocity[1]) - heading, 2.0 * math.pi)
    correction = (away - radius) / OFFSET_TIME**2 + 2.0 * outward / OFFSET_TIME
    wanted = (speed**2 / radius + correction) / math.cos(crab)
    return side * max(-most, min(most, math.atan(wanted / STANDARD_GRAVITY)))


def crab_angle(course: float, true_airspeed: float, wind: Vector) -> float:
    """How far to the right of a course to head so that the wind does not drift the track.

    The wind triangle: sin(crab) = cross wind / V, for a cross wind from the right.
    """
    across = wind[0] * math.cos(course) - wind[1] * math.sin(course)
    return -math.asin(max(-0.9, min(0.9, across / true_airspeed)))


def track_bank(
    offset: float, course: float, heading: float, true_airspeed: float, wind: Vector, most: float
) -> float:
    """Bank that follows a line on the ground in wind, crabbing.

    The heading whose drift keeps the course is that of `crab_angle`.

    Args:
        offset: distance to the right of the line.
        course: direction of the line.
        heading: where the airplane points.
        true_airspeed: its speed.
        wind: velocity of the air over the ground.
        most: greatest bank.
    """
    crab = crab_angle(course, true_airspeed, wind)
    back = math.atan(offset / (true_airspeed * OFFSET_TIME))
    error = math.remainder(course + crab - back - heading, 2.0 * math.pi)
    return max(-most, min(most, bank_for_rate(true_airspeed, error / 2.0)))


def pivotal_altitude(true_airspeed: float, groundspeed_along: float) -> float:
    """Height above the ground at which a pylon stays on the wing tip, m: V x GS along / g.

    The heading must turn as fast as the bearing of a pylon abeam, so with its distance d
    g tan(bank) / V = GS along / d, and the wing points down at it where tan(bank) = height / d. In
    still air that is GS^2 / g, in feet and knots GS^2 / 11.3 (FAA-H-8083-3C ch. 7).

    Args:
        true_airspeed: V.
        groundspeed_along: the part of the groundspeed that is along the heading.
    """
    return true_airspeed * groundspeed_along / STANDARD_GRAVITY


def pylon_bank(
    position: Vector, velocity: Vector, heading: float, true_airspeed: float, pylon: Vector,
    side: int,
) -> float:  # fmt: skip
    """Bank that keeps a pylon exactly off the wing tip.

    Geometry: the heading must turn as fast as the bearing of the pylon, and a small error of the
    heading against that bearing is taken out.
    """
    east, north = pylon[0] - position[0], pylon[1] - position[1]
    away = math.hypot(east, north)
    bearing = math.atan2(east, north)
    bearing_rate = (velocity[1] * east - velocity[0] * north) / away**2
    error = math.remainder(bearing - side * math.pi / 2.0 - heading, 2.0 * math.pi)
    return bank_for_rate(true_airspeed, bearing_rate + error / OFFSET_TIME)


def altitude_path(altitude: float, wanted: float, true_airspeed: float) -> float:
    """Flight path that brings an altitude to the wanted one, and is level there."""
    climb = (wanted - altitude) / OFFSET_TIME
    return math.asin(max(-0.3, min(0.3, climb / true_airspeed)))


def speed_path(forces: Forces, state: State, wanted: float) -> float:
    """Flight path that brings the true airspeed to the wanted one with the power as it is.

    From V' = (T cos(alpha) - D)/m - g sin(gamma): the path that takes up the excess thrust, less
    what changes the speed.

    Args:
        forces: what acts now.
        state: where it is.
        wanted: true airspeed.
    """
    excess = forces.acceleration / STANDARD_GRAVITY + math.sin(state.path)
    change = (wanted - state.speed) / SPEED_TIME / STANDARD_GRAVITY
    change = max(-SPEED_CHANGE, min(SPEED_CHANGE, change))
    steepest = math.sin(STEEPEST_PATH)
    return math.asin(max(-steepest, min(steepest, excess - change)))


def throttle_as_needed(machine: Machine, state: State, bank: float, wanted: float) -> float:
    """The throttle that brings the true airspeed to the wanted one on the path as it is.

    Args:
        machine: the airplane; its own throttle does not matter.
        state: where it is.
        bank: its bank.
        wanted: true airspeed.
    """
    forces = machine.by_path(state, bank, 0.0)
    pull, air = forces.thrust * math.cos(forces.alpha), machine.density(state.altitude)
    short = (wanted - state.speed) / SPEED_TIME - forces.acceleration
    thrust = (pull + machine.mass * short) / math.cos(forces.alpha)
    return machine.performance.propeller.throttle_for_thrust(thrust, state.speed, air)
