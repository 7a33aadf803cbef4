"""Slow flight, stalls, climbs, descents and glides: against closed forms and their standards."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from coach.flight import guidance
from coach.flight.airplane import load
from coach.flight.atmosphere import density
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.fit import derive
from coach.flight.flight import Flight
from coach.flight.handling import roller
from coach.flight.history import Floats
from coach.flight.motion import Machine, State
from coach.flight.plan import plan
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.script.catalog import maneuver
from coach.script.faults import faults
from coach.script.maneuver import Maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT, STANDARD_GRAVITY
from coach.script.reading import parse
from tests.flight.speeds import speed_kt

DAYS = {
    "the trainer at gross weight": ("meadow-four", Day(wind="calm")),
    "the trainer, light": ("meadow-four", Day(weight="1900 lb", wind="calm")),
    "the tailwheel, high and hot": (
        "hedgerow-two",
        Day(altitude="8000 ft", ground="5000 ft", temperature="20 C", wind="calm"),
    ),
    "the low-wing, to the left in wind": ("orchard-two", Day(direction="left", wind="across@15")),
    "the retractable": ("hillside-four", Day(wind="calm")),
}
CALM = [name for name, (_, day) in DAYS.items() if day.wind == "calm"]
every_day = pytest.mark.parametrize("day", DAYS)
calm_day = pytest.mark.parametrize("day", CALM)


@cache
def flown(name: str, day: str) -> Flight:
    airplane, given_day = DAYS[day]
    script, plane = maneuver(name), load(airplane)
    return plan(script, plane, conditions(given_day, script, plane))


def leg(flight: Flight, name: str, first: float = 0.0) -> dict[str, Floats]:
    """The table of one leg, from a share of it on."""
    span = next(one for one in flight.spans if one.leg == name)
    start = span.start_s + first * (span.end_s - span.start_s)
    return flight.at(np.arange(start, span.end_s - 0.01, 0.05))


def lasts(flight: Flight, name: str) -> float:
    span = next(one for one in flight.spans if one.leg == name)
    return span.end_s - span.start_s


def drag(flight: Flight, speed: float, air: float, load_factor: float) -> float:
    """Drag with the propeller windmilling, from the parabolic polar (any aerodynamics text), N."""
    plane = flight.performance
    pressure = 0.5 * air * speed**2 * plane.wing_area
    lift = load_factor * flight.conditions.mass * STANDARD_GRAVITY / pressure
    induced = plane.induced_drag * (lift - plane.least_drag_lift) ** 2
    return pressure * (plane.least_drag + plane.windmill_drag + induced)


@every_day
def test_slowing_down_in_level_flight_takes_the_integral_of_mass_over_drag(day: str) -> None:
    # V' = -D/m without thrust, any aerodynamics text; integrated by scipy, not by the flight room.
    flight = flown("engine-failure", day)
    here = flight.conditions
    air = here.density(here.altitude)
    row = leg(flight, "slowing to best glide")
    idle = int(np.argmax(row["power_percent"] == 0.0))  # engine and propeller take their time
    assert 0.0 < row["t_s"][idle] - row["t_s"][0] < 6.0
    fast, slow = float(row["tas_kt"][idle]) * KNOT, float(row["tas_kt"][-1]) * KNOT
    seconds, _ = quad(lambda v: here.mass / drag(flight, v, air, 1.0), slow, fast)
    metres, _ = quad(lambda v: v * here.mass / drag(flight, v, air, 1.0), slow, fast)
    assert row["t_s"][-1] - row["t_s"][idle] == pytest.approx(seconds, abs=0.07)
    assert row["altitude_ft"] == pytest.approx(here.altitude / FOOT, abs=1.5)
    if not here.wind_speed:
        far = math.hypot(*(np.ptp(row[way][idle:]) for way in ("east_ft", "north_ft"))) * FOOT
        assert far == pytest.approx(metres, rel=0.01)


@calm_day
def test_a_glide_goes_as_far_as_its_ratio_says(day: str) -> None:
    # Distance is ratio times height lost, at every weight (FAA-H-8083-3C ch. 4, from memory). At a
    # constant indicated speed the true one falls on the way down: D ds = W dh + m V dV.
    flight = flown("engine-failure", day)
    row = leg(flight, "gliding")
    far = np.hypot(np.ptp(row["east_ft"]), np.ptp(row["north_ft"])) * FOOT
    fast, slow = row["tas_kt"][[0, -1]] * KNOT
    lost = np.ptp(row["altitude_ft"]) * FOOT + (fast**2 - slow**2) / (2.0 * STANDARD_GRAVITY)
    assert far / lost == pytest.approx(flight.airplane.glide_ratio, rel=0.01)


@every_day
def test_a_glide_lasts_as_long_as_height_over_sink(day: str) -> None:
    # Power-off sink: V times D over W, any aerodynamics text; its mean over the height.
    flight = flown("engine-failure", day)
    row = leg(flight, "gliding")
    speeds, heights = row["tas_kt"] * KNOT, row["altitude_ft"] * FOOT
    weight = flight.conditions.mass * STANDARD_GRAVITY
    sinks = [
        v * drag(flight, v, flight.conditions.density(h), 1.0) / weight
        for v, h in zip(speeds, heights, strict=True)
    ]
    seconds = float(np.ptp(heights)) / float(np.mean(sinks))
    assert lasts(flight, "gliding") == pytest.approx(seconds, rel=0.02)


GLIDE = """
maneuver: a-glide
title: A glide
purpose: To compare speeds.
sides: [first]
entry: {{speed: [{speed}], height: 4000 ft, lowest: 0 ft, power: idle, path: -6 deg, steps: []}}
legs:
  - {{name: settling, speed: {speed}, until: {{height: 3500 ft}}}}
  - {{name: gliding, speed: {speed}, until: {{height: 1500 ft}}}}
checkpoints: [{{name: down, ends: gliding}}]
standard: {{source: none, limits: []}}
"""


@pytest.mark.parametrize("plane", ["meadow-four", "hedgerow-two", "orchard-two", "hillside-four"])
def test_best_glide_speed_gives_the_flattest_glide(plane: str) -> None:
    # (L/D)max is where zero-lift and induced drag are equal, any aerodynamics text.
    airplane = load(plane)

    def far(speed: str) -> float:
        script = parse(GLIDE.format(speed=speed), Maneuver, faults, "glide")
        row = leg(plan(script, airplane, conditions(Day(wind="calm"), script, airplane)), "gliding")
        return float(np.hypot(np.ptp(row["east_ft"]), np.ptp(row["north_ft"])))

    best = far("best glide")
    assert best > far("best glide - 8 kt")
    assert best > far("best glide + 12 kt")
    assert best == pytest.approx(max(far("best glide - 2 kt"), far("best glide + 2 kt")), rel=0.02)


@every_day
def test_the_turn_to_the_field_takes_what_rate_of_turn_and_roll_rate_say(day: str) -> None:
    # g tan(bank) / V, FAA-H-8083-25 ch. 5; rolling in and out at a steady rate turns through the
    # integral of the same. A glide adds the cosine of its path.
    flight = flown("engine-failure", day)
    row = leg(flight, "turning to the field")
    speed = float(row["tas_kt"].mean()) * KNOT
    bank, hand = 30 * DEGREE, roller(flight.maneuver.roll_rate)
    rolling = guidance.roll_out_lead(speed, bank, hand)
    steady = (math.pi / 2 - 2 * rolling) / guidance.turn_rate(speed, bank)
    wanted = steady + 2 * hand.seconds(bank)
    assert lasts(flight, "turning to the field") == pytest.approx(wanted, rel=0.03)
    assert flight.moments[1].turned_deg == pytest.approx(90, abs=1)


@every_day
def test_wings_are_level_after_a_turn_and_the_heading_stays(day: str) -> None:
    flight = flown("engine-failure", day)
    row = leg(flight, "gliding")
    assert row["bank_deg"] == pytest.approx(0.0, abs=0.01)
    assert np.ptp(row["turned_deg"]) < 0.01


@pytest.mark.parametrize(
    ("name", "part", "speed"),
    [
        ("climb-at-constant-speed", "climbing", "best rate"),
        ("descent-at-constant-speed", "descending", "entry"),
        ("descent-at-constant-speed", "leveling off", "entry"),
        ("engine-failure", "checks", "best glide"),
        ("engine-failure", "gliding", "best glide"),
        ("slow-flight", "first turn", "stall + 8 kt"),
        ("slow-flight", "second turn", "stall + 8 kt"),
    ],
)
@every_day
def test_a_held_speed_is_held_within_two_knots(day: str, name: str, part: str, speed: str) -> None:
    # FAA-S-ACS-6, task VIII.B allows 10 kt (from memory); the plan itself is to be right.
    flight = flown(name, day)
    wanted = speed_kt(flight, speed)
    assert leg(flight, part, first=0.6)["ias_kt"] == pytest.approx(wanted, abs=2.0)


@every_day
def test_the_climb_levels_off_with_a_lead_of_a_tenth_of_its_rate(day: str) -> None:
    # Common practice, no source. A path that comes level at a steady rate climbs at half the rate
    # on average: 12 s of it lead by 6 s of climb, a tenth of the feet in a minute.
    flight = flown("climb-at-constant-speed", day)
    row = leg(flight, "leveling off")
    target = flight.conditions.altitude / FOOT + 1000.0
    lead = target - row["altitude_ft"][0]
    assert lead == pytest.approx(row["climb_fpm"][0] / 10.0, rel=0.15)
    assert row["altitude_ft"].max() < target + 10.0
    assert leg(flight, "speeding up")["altitude_ft"] == pytest.approx(target, abs=10.0)


@every_day
def test_the_descent_levels_off_without_going_through(day: str) -> None:
    flight = flown("descent-at-constant-speed", day)
    target = flight.conditions.altitude / FOOT - 500.0
    assert flight.table(20.0)["altitude_ft"].min() > target - 1.0
    assert flight.moments[-1].altitude_ft == pytest.approx(target, abs=5.0)


@every_day
def test_the_rate_of_descent_is_five_times_the_true_speed_on_a_path_of_three_degrees(
    day: str,
) -> None:
    # Common practice, no source; exactly 101.3 tan(3 deg), which is 5.3.
    row = leg(flown("descent-at-constant-speed", day), "descending", first=0.1)
    assert -row["climb_fpm"] / row["tas_kt"] == pytest.approx(5.3, abs=0.1)


@every_day
def test_slow_flight_keeps_its_standard(day: str) -> None:
    # FAA-S-ACS-6, task VII.A, from memory: 100 ft, 10 deg, 10 deg of bank, +10/-0 kt, no warning.
    flight = flown("slow-flight", day)
    entry = flight.conditions.altitude / FOOT
    assert flight.table(20.0)["altitude_ft"] == pytest.approx(entry, abs=5.0)
    for name in ("first turn", "second turn"):
        row = leg(flight, name)
        assert np.abs(row["bank_deg"]).max() == pytest.approx(15.0, abs=0.5)
        # Stall speed rises with the root of 1/cos(bank), FAA-H-8083-25 ch. 5.
        stall = stall_speed(flight.performance, flight.conditions.mass) / KNOT
        wanted = row["ias_kt"].mean() - stall / math.sqrt(math.cos(15 * DEGREE))
        assert row["stall_margin_kt"].min() == pytest.approx(wanted, abs=0.5)
        assert row["stall_margin_kt"].min() > 5.0
    turned = {one.name: one.turned_deg for one in flight.moments}
    assert turned["rolled out"] == pytest.approx(90.0, abs=1.0)
    assert turned["back on heading"] == pytest.approx(0.0, abs=1.0)


@every_day
def test_a_turn_in_slow_flight_takes_more_power(day: str) -> None:
    flight = flown("slow-flight", day)
    time, power = flight.recorded("time"), flight.recorded("power")
    middle = {span.leg: 0.5 * (span.start_s + span.end_s) for span in flight.spans}
    turning, straight = np.interp([middle["first turn"], middle["straight"]], time, power)
    assert turning > straight


@every_day
def test_the_power_off_stall_comes_at_the_handbook_stall_speed(day: str) -> None:
    # It falls with the square root of weight, FAA-H-8083-25.
    flight = flown("power-off-stall", day)
    airplane, mass = flight.airplane, flight.conditions.mass
    handbook = airplane.speeds.stall * math.sqrt(mass / airplane.weights.gross) / KNOT
    assert flight.moments[1].name == "stall"
    assert flight.moments[1].ias_kt == pytest.approx(handbook, abs=0.5)
    level = leg(flight, "raising the nose", first=0.5)["altitude_ft"]
    assert np.ptp(level) < 20.0


@every_day
@pytest.mark.parametrize("name", ["power-off-stall", "power-on-stall"])
def test_a_stall_is_recovered_at_once_and_straight_ahead(day: str, name: str) -> None:
    # FAA-S-ACS-6, tasks VII.B and VII.C, from memory: heading within 10 deg, 1,500 ft above ground.
    flight = flown(name, day)
    table = flight.table(20.0)
    stalled = next(one for one in flight.moments if one.name == "stall")
    after = table["t_s"] > stalled.time_s
    lost = stalled.altitude_ft - table["altitude_ft"][after].min()
    assert 0.0 < lost < 200.0
    assert table["stall_margin_kt"][table["t_s"] > stalled.time_s + 3.0].min() > 4.5
    assert np.abs(table["turned_deg"]).max() < 1.0
    assert table["height_ft"].min() > 1500.0
    assert table["load_factor"].min() > 0.0


@every_day
def test_power_makes_the_stall_slower_and_its_nose_higher(day: str) -> None:
    # FAA-H-8083-3C ch. 5, from memory. High and hot there is little power.
    off, on = (
        next(one for one in flown(name, day).moments if one.name == "stall")
        for name in ("power-off-stall", "power-on-stall")
    )
    assert on.ias_kt < off.ias_kt
    assert on.pitch_deg > off.pitch_deg + (0.5 if "hot" in day else 5.0)


@every_day
def test_the_emergency_descent_keeps_its_standard(day: str) -> None:
    # FAA-S-ACS-6, task IX.A, from memory: 30 to 45 deg of bank, +0/-10 kt, level within 100 ft.
    flight = flown("emergency-descent", day)
    limit = maneuvering_speed(flight.airplane, flight.conditions.mass) / KNOT
    assert flight.table(20.0)["ias_kt"].max() < limit
    row = leg(flight, "descending", first=0.2)
    assert row["ias_kt"].min() > limit - 10.0
    assert np.abs(row["bank_deg"]) == pytest.approx(40.0, abs=1.0)
    level = next(one for one in flight.moments if one.name == "level")
    target = flight.conditions.altitude / FOOT - 1200.0
    assert level.altitude_ft == pytest.approx(target, abs=20.0)
    assert abs(level.bank_deg) < 0.5
    assert leg(flight, "leveling off")["altitude_ft"].min() > target - 20.0


@every_day
def test_the_emergency_descent_sinks_as_its_drag_in_the_turn_says(day: str) -> None:
    # Steady and without thrust: sin(path) = D / W, with the load factor cos(path) / cos(bank).
    flight = flown("emergency-descent", day)
    row = {name: float(column[-1]) for name, column in leg(flight, "descending").items()}
    here = flight.conditions
    load_factor = math.cos(row["path_deg"] * DEGREE) / math.cos(40 * DEGREE)
    air = here.density(row["altitude_ft"] * FOOT)
    held = drag(flight, row["tas_kt"] * KNOT, air, load_factor) / (here.mass * STANDARD_GRAVITY)
    assert -math.sin(row["path_deg"] * DEGREE) == pytest.approx(held, rel=0.05)


@given(st.floats(30, 60), st.floats(0, 3000), st.floats(0, 0.5), st.floats(-0.05, 0.05))
def test_the_throttle_that_is_needed_keeps_the_speed(
    speed: float, altitude: float, bank: float, path: float
) -> None:
    performance = derive(load("meadow-four"))
    idle = Machine(performance, 1000.0, 0.0, density)
    state = State(speed, 0.0, altitude, path)
    throttle = guidance.throttle_as_needed(idle, state, bank, speed)
    if 0.0 < throttle < 1.0:
        held = replace(idle, throttle=throttle).by_path(state, bank, 0.0)
        assert held.acceleration == pytest.approx(0.0, abs=0.06)


@given(st.floats(35, 60), st.floats(-10, 10), st.floats(0.2, 0.8))
def test_the_nose_takes_up_what_the_power_gives(speed: float, off: float, power: float) -> None:
    # V' = (T cos(alpha) - D)/m - g sin(path): the path asked for leaves a V' towards the speed.
    plane = load("meadow-four")
    machine = Machine(derive(plane), plane.weights.gross, power, density)
    state = State(speed, 0.0, 1000.0, 0.0)
    path = guidance.speed_path(machine.by_path(state, 0.0, 0.0), state, speed + off)
    left = machine.by_path(state._replace(path=path), 0.0, 0.0).acceleration
    most = guidance.SPEED_CHANGE * STANDARD_GRAVITY
    wanted = max(-most, min(most, off / guidance.SPEED_TIME))
    assert left == pytest.approx(wanted, abs=0.05)
