"""Guidance laws: what bank, flight path or power a pilot would set in one instant.

Pure functions in SI units and radians. Bank, turns and offsets are positive to the right; headings,
courses and the direction a wind blows from are clockwise from north; positions are (east, north)
metres over the ground; velocities likewise.
"""

from __future__ import annotations

import math
from dataclasses import replace

from coach.flight.motion import IDLE_SHARE, Machine, State
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


def roll_out_lead(true_airspeed: float, bank: float, roll_rate: float) -> float:
    """Heading that goes by while the wings are rolled level at a steady rate, rad.

    The integral of g tan(phi) / V over the roll: g ln(1 / cos(bank)) / (V p).
    """
    return STANDARD_GRAVITY * math.log(1.0 / math.cos(bank)) / (true_airspeed * roll_rate)


def roll_in_way(speed: float, bank: float, roll_rate: float) -> float:
    """How far a turn rolled into at a steady rate lies beyond one whose bank comes at once, m.

    The roll takes bank / p, in which the heading changes by `roll_out_lead`, as it does at full
    bank in a part of that time; the rest is flown straight ahead.
    """
    if bank <= 0.0:
        return 0.0
    at_full_bank = roll_out_lead(speed, bank, roll_rate) / turn_rate(speed, bank)
    return speed * (bank / roll_rate - at_full_bank)


def turn_bank(
    left: float, speed: float, bank: float, steepest: float, roll_rate: float, step: float
) -> float:
    """Bank wanted in a turn through an angle: ``steepest``, then level just in time.

    It is the bank whose roll-out takes what will be left to turn: `roll_out_lead` solved for it.

    Args:
        left: heading still to turn, positive in the direction of the turn.
        speed: true airspeed.
        bank: bank now, positive in the direction of the turn.
        steepest: bank of the steady turn, positive.
        roll_rate: of the roll-out, positive.
        step: time until the next decision.
    """
    bank = max(0.0, bank)
    wanted = min(bank, steepest)
    for _ in range(3):  # what this step turns through depends a little on the bank it ends with
        then = max(0.0, left - turn_rate(speed, 0.5 * (bank + wanted)) * step)
        wanted = min(steepest, math.acos(math.exp(-then * speed * roll_rate / STANDARD_GRAVITY)))
    return wanted


def over_ground(true_airspeed: float, heading: float, path: float, wind: Vector) -> Vector:
    """Velocity over the ground: the airspeed's horizontal part and the wind's velocity added."""
    ahead = true_airspeed * math.cos(path)
    return ahead * math.sin(heading) + wind[0], ahead * math.cos(heading) + wind[1]


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


def pivotal_altitude(groundspeed: float) -> float:
    """Height above the ground at which a pylon stays on the wing tip, m: GS^2 / g.

    In feet and knots that is GS^2 / 11.3 (FAA-H-8083-3C ch. 7).
    """
    return groundspeed**2 / STANDARD_GRAVITY


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
    return bank_for_rate(true_airspeed, bearing_rate + error / 3.0)


def altitude_path(altitude: float, wanted: float, true_airspeed: float) -> float:
    """Flight path that brings an altitude to the wanted one, and is level there."""
    climb = (wanted - altitude) / OFFSET_TIME
    return math.asin(max(-0.3, min(0.3, climb / true_airspeed)))


def speed_path(machine: Machine, state: State, bank: float, wanted: float) -> float:
    """Flight path that brings the true airspeed to the wanted one with the power as it is.

    From V' = (T cos(alpha) - D)/m - g sin(gamma): the path that takes up the excess thrust, less
    what changes the speed.
    """
    forces = machine.by_path(state, bank, 0.0)
    excess = forces.acceleration / STANDARD_GRAVITY + math.sin(state.path)
    change = (wanted - state.speed) / SPEED_TIME / STANDARD_GRAVITY
    change = max(-SPEED_CHANGE, min(SPEED_CHANGE, change))
    steepest = math.sin(STEEPEST_PATH)
    return math.asin(max(-steepest, min(steepest, excess - change)))


def power_as_needed(machine: Machine, state: State, bank: float, wanted: float) -> float:
    """Share of rated power that brings the true airspeed to the wanted one on the path as it is.

    Args:
        machine: the airplane; its own power does not matter.
        state: where it is.
        bank: its bank.
        wanted: true airspeed.
    """
    air = machine.density(state.altitude)
    # A propeller that pulls does not hold back, so what it holds back now is no part of the drag.
    if machine.power < IDLE_SHARE:
        machine = replace(machine, power=IDLE_SHARE)
    forces = machine.by_path(state, bank, 0.0)
    pull = machine.thrust(state.speed, air) * math.cos(forces.alpha)
    short = (wanted - state.speed) / SPEED_TIME - forces.acceleration
    thrust = (pull + machine.mass * short) / math.cos(forces.alpha)
    return machine.performance.power_share(thrust, state.speed, air)
