"""Chandelle, steep turns, steep spiral, unusual attitudes, accelerated stall: held to their words."""

import math
from functools import cache

import numpy as np
import pytest

from coach.flight import guidance
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.handling import roller
from coach.flight.history import Floats
from coach.flight.motion import lift_bank
from coach.flight.plan import plan
from coach.flight.speeds import maneuvering_speed
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT
from tests.flight.speeds import speed_kt

DAYS = {
    "the trainer at gross weight": ("meadow-four", Day(wind="calm")),
    "the trainer, light, to the left": ("meadow-four", Day(weight="1900 lb", direction="left")),
    "the low-wing in wind": ("orchard-two", Day(wind="behind@15")),
    "the retractable": ("hillside-four", Day(wind="calm")),
}
every_day = pytest.mark.parametrize("day", DAYS)
both_banks = pytest.mark.parametrize("bank", [45, 50])


@cache
def flown(name: str, day: str) -> Flight:
    airplane, given_day = DAYS[day]
    script, plane = maneuver(name), load(airplane)
    return plan(script, plane, conditions(given_day, script, plane))


def leg(flight: Flight, name: str, loop: int = 1) -> dict[str, Floats]:
    """The table of one leg of one loop."""
    span = next(one for one in flight.spans if (one.leg, one.loop) == (name, loop))
    return flight.at(np.arange(span.start_s, span.end_s - 0.01, 0.05))


def names(flight: Flight) -> dict[str, float]:
    """When each checkpoint of the first loop comes."""
    return {one.name: one.time_s for one in flight.moments if one.loop == 1}


@every_day
def test_the_chandelle_keeps_its_standard(day: str) -> None:
    # FAA-S-ACS-7, task V.C: 180 deg within 10, just above the stall, 1,500 ft above the ground.
    flight = flown("chandelle", day)
    at = {one.name: one for one in flight.moments}
    assert at["90"].turned_deg == pytest.approx(90.0, abs=1.0)
    assert at["180"].turned_deg == pytest.approx(180.0, abs=1.0)
    assert abs(at["180"].bank_deg) < 0.1
    assert at["180"].ias_kt == pytest.approx(speed_kt(flight, "stall") + 5.0, abs=2.0)
    assert flight.table()["height_ft"].min() > 1500.0
    assert flight.table(20.0)["stall_margin_kt"].min() > 2.0


@every_day
def test_the_chandelle_holds_one_control_while_the_other_moves(day: str) -> None:
    # FAA-S-ACS-7, task V.C: bank held and pitch rising to 90, then pitch held, bank at one rate.
    flight = flown("chandelle", day)
    first = leg(flight, "pitch rising, bank held")
    assert np.abs(first["bank_deg"]) == pytest.approx(30.0, abs=0.1)
    assert (np.diff(first["pitch_deg"]) > 0.0).all()
    second = leg(flight, "pitch held, rolling out")
    assert np.ptp(second["pitch_deg"]) < 0.2
    rates = np.diff(second["bank_deg"])[25:-25]  # not the moment in which the hand begins or ends
    assert rates == pytest.approx(rates.mean(), rel=0.02)
    assert (np.diff(second["ias_kt"]) < 0.0).all()


@every_day
def test_the_chandelle_gains_no_more_height_than_speed_and_power_can_pay(day: str) -> None:
    # Energy: the height gained is at most V lost squared over 2 g and what full power could lift.
    flight = flown("chandelle", day)
    end = names(flight)["180"]
    row = flight.at([0.0, end])
    fast, slow = row["tas_kt"] * KNOT
    traded = (fast**2 - slow**2) / (2.0 * 9.80665)
    weight = flight.conditions.mass * 9.80665
    lifted = flight.airplane.engine.rated_power * end / weight
    gained = float(np.ptp(row["altitude_ft"])) * FOOT
    assert 0.5 * traded < gained < traded + lifted


@every_day
@both_banks
def test_a_steep_turn_keeps_its_standard_both_ways(day: str, bank: int) -> None:
    # FAA-S-ACS-6 and -7, task V.A: 100 ft, 10 kt, 5 deg of bank, roll-out within 10 deg.
    flight = flown(f"steep-turn-{bank}", day)
    entry = flight.conditions
    table = flight.table(20.0)
    assert table["altitude_ft"] == pytest.approx(entry.altitude / FOOT, abs=10.0)
    assert table["ias_kt"] == pytest.approx(flight.entry_speed_kt, abs=3.0)
    for loop in (1, 2):
        steepest = np.abs(leg(flight, "turn", loop)["bank_deg"]).max()
        assert steepest == pytest.approx(bank, abs=0.2)
    assert flight.sides[0] == -flight.sides[1]
    for one in flight.moments:
        if one.name == "rolled out":
            assert one.turned_deg == pytest.approx(360.0, abs=1.0)
            assert abs(one.bank_deg) < 0.5


@every_day
@both_banks
def test_a_steep_turn_takes_what_rate_of_turn_and_roll_rate_say(day: str, bank: int) -> None:
    # g tan(bank) / V, FAA-H-8083-25 ch. 5, with the roll in and out at the script's rate.
    flight = flown(f"steep-turn-{bank}", day)
    row = leg(flight, "turn")
    speed, angle = float(row["tas_kt"].mean()) * KNOT, bank * DEGREE
    hand = roller(flight.maneuver.roll_rate)
    rolling = guidance.roll_out_lead(speed, angle, hand)
    seconds = (2.0 * math.pi - 2.0 * rolling) / guidance.turn_rate(speed, angle)
    seconds += 2.0 * hand.seconds(angle)
    assert names(flight)["rolled out"] == pytest.approx(seconds, rel=0.01)


@every_day
@both_banks
def test_a_steep_turn_loads_the_wing_by_its_bank(day: str, bank: int) -> None:
    # 1/cos(bank); the stall speed rises with its root, FAA-H-8083-25 ch. 5.
    flight = flown(f"steep-turn-{bank}", day)
    load_factor = 1.0 / math.cos(bank * DEGREE)
    middle = next(one for one in flight.moments if one.name == "180")
    assert middle.load_factor == pytest.approx(load_factor, rel=0.01)
    stall = speed_kt(flight, "stall") * math.sqrt(load_factor)
    assert middle.ias_kt - middle.stall_margin_kt == pytest.approx(stall, abs=0.5)


def test_a_steep_turn_that_full_power_cannot_hold_is_refused_in_a_sentence() -> None:
    script, plane = maneuver("steep-turn-50"), load("meadow-four")
    day = Day(altitude="8000 ft", ground="5000 ft", temperature="20 C")
    with pytest.raises(Problem, match="speed comes out at"):
        plan(script, plane, conditions(day, script, plane))


@every_day
def test_the_steep_spiral_keeps_its_standard(day: str) -> None:
    # FAA-S-ACS-7, task V.B: three turns, never over 60 deg, 10 kt, roll-out within 10 deg, 1,500 ft.
    flight = flown("steep-spiral", day)
    table = flight.table(20.0)
    assert np.abs(table["bank_deg"]).max() < 60.0
    assert table["ias_kt"] == pytest.approx(flight.entry_speed_kt, abs=2.0)
    assert flight.moments[-1].name == "rolled out"
    assert flight.moments[-1].turned_deg == pytest.approx(1080.0, abs=2.0)
    assert table["height_ft"].min() > 1500.0
    assert flight.power == 0.0


@every_day
def test_the_steep_spiral_keeps_its_radius_in_wind(day: str) -> None:
    # FAA-S-ACS-7, task V.B. One circle over the ground fits the last two turns, least squares.
    flight = flown("steep-spiral", day)
    row = leg(flight, "circling")
    here = (row["turned_deg"] > 360.0) & (row["turned_deg"] < 1040.0)
    east, north = row["east_ft"][here], row["north_ft"][here]
    sides = np.column_stack([2.0 * east, 2.0 * north, np.ones_like(east)])
    x, y, rest = np.linalg.lstsq(sides, east**2 + north**2, rcond=None)[0]
    radius = math.sqrt(rest + x**2 + y**2)
    assert np.hypot(east - x, north - y) == pytest.approx(radius, rel=0.01)
    # V over the ground squared / (g tan(bank)), FAA-H-8083-25 ch. 5, is met with the wind behind.
    steepest = np.abs(row["bank_deg"][here]).max() * DEGREE
    ground_speed = row["groundspeed_kt"][here].max() * KNOT
    wanted = ground_speed**2 / (9.80665 * math.tan(steepest)) / FOOT
    assert radius == pytest.approx(wanted, rel=0.04)


@every_day
def test_nose_high_is_recovered_by_power_then_nose_then_wings(day: str) -> None:
    # FAA-H-8083-3C ch. 5, from memory: power, pitch, roll.
    flight = flown("unusual-attitude-nose-high", day)
    opened = names(flight)["eyes open"]
    before, after = flight.at([opened - 0.1]), leg(flight, "nose down")
    assert before["ias_kt"][0] == pytest.approx(speed_kt(flight, "1.3 stall"), abs=2.5)
    assert np.abs(after["bank_deg"]).min() > 20.0
    assert after["pitch_deg"][-1] < after["pitch_deg"][0] - 20.0
    assert np.abs(leg(flight, "wings level")["bank_deg"])[-1] < 1.0
    time, power = flight.recorded("time"), flight.recorded("power")
    now, later = np.interp([opened - 0.1, opened + 2.5], time, power)
    assert later > now
    table = flight.table(20.0)
    assert table["stall_margin_kt"].min() > 3.0
    assert table["load_factor"].min() > 0.3
    assert table["ias_kt"][-1] > speed_kt(flight, "1.4 stall")


@every_day
def test_nose_low_is_recovered_by_power_then_wings_then_pull(day: str) -> None:
    # FAA-H-8083-3C ch. 5, from memory: power, roll, pitch.
    flight = flown("unusual-attitude-nose-low", day)
    when = names(flight)
    time, power = flight.recorded("time"), flight.recorded("power")
    idle = float(np.interp(when["wings level"] - 1.0, time, power))
    assert idle < 0.02  # engine and propeller take their time
    rolling = leg(flight, "rolling level")
    assert rolling["path_deg"].max() < -10.0  # no pull before the wings are level
    assert np.abs(leg(flight, "pulling")["bank_deg"]).max() < 1.0
    assert abs(float(leg(flight, "pulling")["path_deg"][-1])) < 1.0
    table = flight.table(20.0)
    limit = maneuvering_speed(flight.airplane, flight.conditions.mass) / KNOT
    assert table["ias_kt"].max() < 1.35 * limit
    # Normal category airplanes stand 3.8 g, 14 CFR 23.337 as it stood, from memory.
    assert table["load_factor"].max() < 2.5
    assert table["height_ft"].min() > 1500.0


@every_day
def test_the_accelerated_stall_comes_faster_by_the_root_of_its_load(day: str) -> None:
    # Stall speed times the root of 1/cos(bank), FAA-H-8083-25 ch. 5, the bank being that of the lift
    # about the flight path; no faster than maneuvering.
    flight = flown("accelerated-stall", day)
    stall = next(one for one in flight.moments if one.name == "stall")
    row = {name: float(column[0]) * DEGREE for name, column in flight.at([stall.time_s]).items()}
    lean = lift_bank(45 * DEGREE, row["alpha_deg"], row["path_deg"])
    wanted = speed_kt(flight, "stall") / math.sqrt(math.cos(lean))
    assert stall.ias_kt == pytest.approx(wanted, abs=0.5)
    assert abs(stall.bank_deg) == pytest.approx(45.0, abs=0.5)
    assert np.ptp(leg(flight, "slowing, bank held")["altitude_ft"]) < 15.0
    limit = maneuvering_speed(flight.airplane, flight.conditions.mass) / KNOT
    assert flight.table()["ias_kt"].max() <= limit + 0.5


@every_day
def test_the_accelerated_stall_is_unloaded_first_and_recovered_high(day: str) -> None:
    # FAA-S-ACS-7, task VII.D, from memory: about 45 deg, no lower than 3,000 ft above the ground.
    flight = flown("accelerated-stall", day)
    unloading = leg(flight, "unloading")
    assert np.abs(unloading["bank_deg"]).min() > 40.0
    assert unloading["load_factor"][-1] < unloading["load_factor"][0]
    assert unloading["stall_margin_kt"][-1] > 5.0
    table = flight.table(20.0)
    assert table["height_ft"].min() > 3000.0
    assert flight.moments[-1].altitude_ft == pytest.approx(flight.conditions.altitude / FOOT, abs=5)


@every_day
@pytest.mark.parametrize(
    "name",
    [
        "chandelle",
        "steep-turn-45",
        "steep-turn-50",
        "steep-spiral",
        "unusual-attitude-nose-high",
        "unusual-attitude-nose-low",
        "accelerated-stall",
    ],
)
def test_checkpoints_are_far_enough_apart_to_tap(day: str, name: str) -> None:
    # Common practice, no source: some three seconds.
    times = [one.time_s for one in flown(name, day).moments]
    assert np.diff(times).min() > 2.9
