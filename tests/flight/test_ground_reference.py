"""Maneuvers by reference to the ground or the clock: against closed forms and their standards."""

import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from coach.callouts.sheet import cue_sheet
from coach.flight import guidance
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.handling import roller
from coach.flight.history import Floats
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.maneuver import Anchor
from coach.script.quantities import DEGREE, FOOT, KNOT, STANDARD_GRAVITY
from tests.bench.pylons import sight

DAYS = {
    "the trainer on the usual wind": ("meadow-four", Day()),
    "the trainer, light, to the left": (
        "meadow-four",
        Day(weight="1900 lb", direction="left"),
    ),
    "the trainer in calm air": ("meadow-four", Day(wind="calm")),
    "the tailwheel, high and hot": (
        "hedgerow-two",
        Day(ground="5000 ft", temperature="30 C"),
    ),
    "the low-wing, to the left": ("orchard-two", Day(direction="left")),
    "the retractable": ("hillside-four", Day()),
}
every_day = pytest.mark.parametrize("day", DAYS)


@cache
def flown(name: str, day: str) -> Flight:
    airplane, given_day = DAYS[day]
    script, plane = maneuver(name), load(airplane)
    return plan(script, plane, conditions(given_day, script, plane))


def leg(flight: Flight, name: str, loop: int = 1, skip: float = 0.0) -> dict[str, Floats]:
    """The table of one leg of a loop, without so many seconds at either end."""
    span = next(one for one in flight.spans if one.leg == name and one.loop == loop)
    return flight.at(np.arange(span.start_s + skip, span.end_s - skip, 0.1))


def centre_and_radius(row: dict[str, Floats]) -> tuple[float, float, float]:
    """The circle nearest to a track (linear least squares), ft."""
    east, north = row["east_ft"], row["north_ft"]
    lines = np.column_stack([2.0 * east, 2.0 * north, np.ones_like(east)])
    (x, y, c), *_ = np.linalg.lstsq(lines, east**2 + north**2, rcond=None)
    return float(x), float(y), math.sqrt(c + x**2 + y**2)


def crab(row: dict[str, Floats], flight: Flight) -> Floats:
    """Track over the ground less heading, deg, from the wind triangle."""
    east, north = flight.conditions.wind
    heading = row["heading_deg"] * DEGREE
    ahead = row["tas_kt"] * KNOT
    track = np.arctan2(ahead * np.sin(heading) + east, ahead * np.cos(heading) + north)
    return np.degrees(np.arctan2(np.sin(track - heading), np.cos(track - heading)))


@every_day
@pytest.mark.parametrize("loop", [1, 2])
def test_a_turn_around_a_point_keeps_its_radius_within_one_percent(day: str, loop: int) -> None:
    flight = flown("turns-around-a-point", day)
    row = leg(flight, "circle", loop, skip=9.0)
    x, y, radius = centre_and_radius(row)
    away = np.hypot(row["east_ft"] - x, row["north_ft"] - y)
    assert away == pytest.approx(radius, rel=0.01)
    # V^2 / (g tan(bank)) at the greatest groundspeed, FAA-H-8083-25 ch. 5.
    fastest = leg(flight, "circle", loop)["tas_kt"][0] * KNOT + flight.conditions.wind_speed
    wanted = fastest**2 / (STANDARD_GRAVITY * math.tan(45 * DEGREE)) / FOOT
    assert radius == pytest.approx(wanted, rel=0.01)


@every_day
def test_the_bank_around_a_point_is_groundspeed_squared_over_radius_g_cos_crab(day: str) -> None:
    # The lift's horizontal part is across the heading: any text on mechanics.
    flight = flown("turns-around-a-point", day)
    _, _, radius = centre_and_radius(leg(flight, "circle", skip=9.0))
    for name in ("crosswind", "upwind", "crosswind again"):
        moment = next(one for one in flight.moments if one.name == name)
        row = flight.at([moment.time_s])
        across = math.cos(crab(row, flight)[0] * DEGREE)
        pull = (row["groundspeed_kt"][0] * KNOT) ** 2 / (radius * FOOT * STANDARD_GRAVITY * across)
        assert abs(moment.bank_deg) == pytest.approx(math.degrees(math.atan(pull)), abs=1.0)


@every_day
@pytest.mark.parametrize("name", ["turns-around-a-point", "s-turns", "rectangular-course"])
def test_a_ground_reference_maneuver_keeps_its_standard(day: str, name: str) -> None:
    # FAA-S-ACS-6, task V.B, from memory: 100 ft, 10 kt, 600 to 1,000 ft above the ground.
    flight = flown(name, day)
    table = flight.table(20.0)
    assert table["height_ft"] == pytest.approx(1000.0, abs=5.0)
    assert table["ias_kt"] == pytest.approx(flight.entry_speed_kt, abs=2.0)
    assert np.abs(table["bank_deg"]).max() < 47.0


@every_day
def test_the_bank_around_a_point_is_steepest_downwind_and_shallowest_upwind(day: str) -> None:
    flight = flown("turns-around-a-point", day)
    row = leg(flight, "circle", skip=5.0)
    bank = np.abs(row["bank_deg"])
    assert bank.max() == pytest.approx(45.0, abs=2.0)
    if flight.conditions.wind_speed:
        assert row["turned_deg"][bank.argmin()] == pytest.approx(180.0, abs=8.0)


@every_day
def test_both_half_circles_of_an_s_turn_are_equal_and_the_wings_level_on_the_line(day: str) -> None:
    flight = flown("s-turns", day)
    _, _, first = centre_and_radius(leg(flight, "half circle", 1, skip=7.0))
    _, _, second = centre_and_radius(leg(flight, "half circle", 2, skip=7.0))
    assert first == pytest.approx(second, rel=0.02)
    lines = [one for one in flight.moments if one.name == "line"]
    heading = flight.conditions.heading
    for moment in lines:
        row = flight.at([moment.time_s])
        east, north = row["east_ft"][0], row["north_ft"][0]
        assert abs(east * math.sin(heading) + north * math.cos(heading)) < 60.0
        assert abs(moment.bank_deg) < 0.5
        assert moment.turned_deg == pytest.approx(180.0, abs=1.0)


@every_day
def test_a_rectangular_course_crabs_on_the_legs_and_banks_with_the_groundspeed(day: str) -> None:
    flight = flown("rectangular-course", day)
    entry = flight.conditions.heading / DEGREE
    for name, course in (("base", 90.0), ("upwind", 180.0), ("crosswind", 270.0)):
        row = leg(flight, name, skip=3.0)
        track = row["heading_deg"] + crab(row, flight)
        off = track - entry - flight.sides[0] * course
        assert np.degrees(np.arcsin(np.sin(off * DEGREE))) == pytest.approx(0.0, abs=0.5)
        # sin(crab) = cross wind over true airspeed: the wind triangle.
        cross = flight.conditions.wind_speed * abs(math.sin(course * DEGREE))
        wanted = np.degrees(np.arcsin(cross / (row["tas_kt"] * KNOT)))
        assert np.abs(crab(row, flight)) == pytest.approx(wanted, abs=0.5)
    banks = {
        name: np.abs(leg(flight, f"{name} corner", skip=4.0)["bank_deg"])
        for name in ("first", "second", "third", "fourth")
    }
    if flight.conditions.wind_speed:
        # Steepest where it leaves or comes to downwind, shallowest next to upwind.
        assert min(banks["first"].mean(), banks["fourth"].mean()) > banks["second"].mean() + 3.0
        assert min(banks["first"].mean(), banks["fourth"].mean()) > banks["third"].mean() + 3.0
        assert all(banks[name][0] > banks[name][-1] for name in ("first", "second"))
        assert all(banks[name][0] < banks[name][-1] for name in ("third", "fourth"))


@every_day
def test_a_rectangular_course_comes_back_to_its_first_side(day: str) -> None:
    flight = flown("rectangular-course", day)
    begun, ended = leg(flight, "downwind"), leg(flight, "downwind again")
    heading = flight.conditions.heading
    for row in (begun, ended):
        beside = row["east_ft"] * math.cos(heading) - row["north_ft"] * math.sin(heading)
        assert beside == pytest.approx(0.0, abs=60.0)


@every_day
def test_on_a_pylon_the_height_is_airspeed_times_groundspeed_along_the_heading_over_g(
    day: str,
) -> None:
    # Follows from the geometry; in still air it is the handbook's estimate, groundspeed in knots
    # squared over 11.3 (FAA-H-8083-3C ch. 7).
    flight = flown("eights-on-pylons", day)
    row = leg(flight, "pylon", 2, skip=3.0)
    heading, (east, north) = row["heading_deg"] * DEGREE, flight.conditions.wind
    along = row["tas_kt"] * np.cos(row["path_deg"] * DEGREE)
    along += (east * np.sin(heading) + north * np.cos(heading)) / KNOT
    assert row["height_ft"] == pytest.approx(row["tas_kt"] * along / 11.3, abs=6.0)
    if flight.conditions.wind_speed == 0.0:
        assert row["height_ft"] == pytest.approx(row["groundspeed_kt"] ** 2 / 11.3, abs=6.0)


@every_day
def test_eights_on_pylons_begin_at_their_pivotal_altitude_and_level(day: str) -> None:
    flight = flown("eights-on-pylons", day)
    straight = leg(flight, "straight")
    heading, (east, north) = straight["heading_deg"][0] * DEGREE, flight.conditions.wind
    along = straight["tas_kt"][0] + (east * math.sin(heading) + north * math.cos(heading)) / KNOT
    pivotal = straight["tas_kt"][0] * along / 11.3
    assert straight["height_ft"][0] == pytest.approx(pivotal, abs=3.0)
    assert straight["height_ft"] == pytest.approx(straight["height_ft"][0], abs=5.0)


@every_day
@pytest.mark.parametrize("wind", ["as usual", "quartering@25"])
def test_on_a_pylon_the_wing_tip_points_at_it(day: str, wind: str) -> None:
    # The line along the wing goes through the pylon: its depression is the bank. Half a degree is
    # the width of the moon.
    flight = flown("eights-on-pylons", day)
    if wind != "as usual":
        airplane, given_day = DAYS[day]
        script, plane = maneuver("eights-on-pylons"), load(airplane)
        flight = plan(script, plane, conditions(replace(given_day, wind=wind), script, plane))
    for loop in (1, 2):
        row = sight(flight, loop)
        assert row["off"] == pytest.approx(0.0, abs=0.5)
        assert row["ahead"] == pytest.approx(0.0, abs=0.7)


@every_day
def test_eights_on_pylons_never_bank_beyond_forty_degrees_on_both_sides(day: str) -> None:
    # FAA-S-ACS-7, task V.E.
    flight = flown("eights-on-pylons", day)
    bank = flight.table(20.0)["bank_deg"]
    assert np.abs(bank).max() < 40.0
    assert bank.max() > 20.0
    assert bank.min() < -20.0
    assert flight.table()["height_ft"].min() > 300.0


@every_day
def test_the_inbound_leg_of_a_hold_takes_a_minute_and_ends_on_the_fix(day: str) -> None:
    # FAA-H-8083-15, from memory: one minute inbound at or below 14,000 ft.
    flight = flown("holding-pattern", day)
    inbound = next(one for one in flight.spans if one.leg == "inbound")
    assert inbound.end_s - inbound.start_s == pytest.approx(60.0, abs=1.1)
    fix = flight.at([inbound.end_s])
    assert np.hypot(fix["east_ft"][0], fix["north_ft"][0]) < 50.0
    # Straight out and back along the wind, between two turns that drift with it: out and in cover
    # the same ground but for that drift.
    tas = fix["tas_kt"][0] * KNOT
    wind = flight.conditions.wind_speed
    turns = sum(one.end_s - one.start_s for one in flight.spans if one.leg.startswith("turn "))
    minute = inbound.end_s - inbound.start_s
    wanted = (minute * (tas - wind) - wind * turns) / (tas + wind)
    assert flight.solved["outbound time"] == pytest.approx(wanted, rel=0.03)


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 359), st.integers(0, 20), st.sampled_from(["right", "left"]))
@example(90, 30, "right")
@example(270, 30, "right")
def test_a_hold_rolls_out_on_its_course_with_the_drift_already_allowed_for(
    wind_from: int, knots: int, side: str
) -> None:
    script, plane = maneuver("holding-pattern"), load("meadow-four")
    day = Day(wind=f"{wind_from:03d}@{knots}", heading="360", direction=side)
    flight = plan(script, plane, conditions(day, script, plane))
    assert not flight.shortfalls
    inbound, outbound = leg(flight, "inbound"), leg(flight, "outbound", skip=2.0)
    assert inbound["east_ft"] == pytest.approx(0.0, abs=120.0)
    # No second bank after the turn: the heading of the roll-out is the one that is kept.
    assert inbound["bank_deg"] == pytest.approx(0.0, abs=1.0)
    tas, wind = inbound["tas_kt"][0] * KNOT, np.array(flight.conditions.wind)
    correction = math.degrees(math.asin(-wind[0] / tas))  # the wind triangle
    heading = np.degrees(np.unwrap(inbound["heading_deg"] * DEGREE, period=2 * math.pi))
    assert (heading - correction + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.5)
    # Two turns make a full circle in the air, so the straight legs alone make good what the wind
    # does meanwhile: a minute inbound, the outbound time, and the wind over the whole round add up to
    # nothing. At standard rate and a minute outbound that is about triple the inbound correction,
    # the other way (AIM 5-3-8, from memory).
    # A roll in and a roll out at either end lie straight ahead, each for a part of a second.
    bank = guidance.bank_for_rate(tas, 3.0 * DEGREE)
    rolls = 2.0 * guidance.roll_in_way(tas, bank, roller(script.roll_rate)) / tas
    way = np.array([math.sin(correction * DEGREE), math.cos(correction * DEGREE)])
    minute = next(one.end_s - one.start_s for one in flight.spans if one.leg == "inbound")
    assert minute == pytest.approx(60.0, abs=1.1)
    out = -((minute + rolls) * tas * way + flight.length_s * wind)
    assert flight.solved["outbound time"] + rolls == pytest.approx(np.hypot(*out) / tas, abs=0.3)
    wanted = math.degrees(math.atan2(*out))
    assert math.remainder(outbound["heading_deg"][0] - wanted, 360.0) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("wind", ["calm", "ahead@15", "behind@15"])
def test_the_clock_of_a_hold_is_started_once_abeam_the_fix(wind: str) -> None:
    # AIM 5-3-8, from memory: outbound timing begins over or abeam the fix, whichever comes later.
    script, plane = maneuver("holding-pattern"), load("meadow-four")
    flight = plan(script, plane, conditions(Day(wind=wind, heading="360"), script, plane))
    abeam = flight.when(Anchor(abeam=True), 1)
    assert abeam is not None
    there = flight.at([abeam])
    assert there["north_ft"][0] == pytest.approx(0.0, abs=1.0)
    assert 90.0 < there["turned_deg"][0] < 185.0
    sheet = cue_sheet(flight, {})
    started = [
        sheet.flight_s(cue.start_s)
        for cue in sheet.cues
        if cue.phrase and re.match("Start the clock|Clock", cue.phrase.text)
    ]
    assert started == [pytest.approx(abeam, abs=1.6)]


@pytest.mark.parametrize("knots", [26, 38])
@pytest.mark.parametrize("airplane", ["hedgerow-two", "meadow-four"])
def test_a_hold_in_a_strong_headwind_is_flown_also_where_the_outbound_leg_vanishes(
    airplane: str, knots: int
) -> None:
    script, plane = maneuver("holding-pattern"), load(airplane)
    flight = plan(script, plane, conditions(Day(wind=f"ahead@{knots}"), script, plane))
    inbound = next(one for one in flight.spans if one.leg == "inbound")
    fix = flight.at([inbound.end_s])
    assert np.hypot(fix["east_ft"][0], fix["north_ft"][0]) < 150.0
    # Two turns of a minute drift 120 s of wind, and a minute inbound makes up 60 s of groundspeed:
    # nothing is left for the outbound leg where the wind is a third of the airspeed.
    vanishes = 3.0 * knots > fix["tas_kt"][0]
    assert (flight.solved["outbound time"] < 4.0) == vanishes
    assert any("since inbound" in one for one in flight.shortfalls) == vanishes


def test_a_hold_across_the_wind_corrects_about_three_times_as_much_outbound() -> None:
    # AIM 5-3-8, from memory: triple the inbound correction.
    script, plane = maneuver("holding-pattern"), load("meadow-four")
    flight = plan(script, plane, conditions(Day(wind="090@15", heading="360"), script, plane))
    inbound = leg(flight, "inbound")["heading_deg"][0]
    outbound = leg(flight, "outbound", skip=2.0)["heading_deg"][0]
    assert (180.0 - outbound) / inbound == pytest.approx(3.0, abs=0.3)


@every_day
def test_a_standard_rate_turn_takes_two_minutes_for_a_full_circle_and_one_for_half(
    day: str,
) -> None:
    # 3 degrees a second, common practice, no source. Rolling in and out adds, for each roll, its
    # time less that in which the steady turn covers the same heading.
    flight = flown("standard-rate-turns", day)
    for name, minutes in (("full turn", 2.0), ("half turn", 1.0)):
        span = next(one for one in flight.spans if one.leg == name)
        row = leg(flight, name, skip=6.0)
        speed = float(row["tas_kt"].mean()) * KNOT
        steady = guidance.bank_for_rate(speed, 3.0 * DEGREE)
        rolls = 2.0 * guidance.roll_in_way(speed, steady, roller(flight.maneuver.roll_rate)) / speed
        assert span.end_s - span.start_s == pytest.approx(60.0 * minutes + rolls, abs=0.5)
        assert rolls < 3.5
        assert np.abs(row["turn_rate_dps"]) == pytest.approx(3.0, abs=0.02)
        # rad/s = g tan(bank) / V, FAA-H-8083-25 ch. 5.
        bank = np.degrees(np.arctan(3.0 * DEGREE * row["tas_kt"] * KNOT / STANDARD_GRAVITY))
        assert np.abs(row["bank_deg"]) == pytest.approx(bank, abs=0.1)


@given(st.floats(0, 359), st.floats(60, 200), st.floats(0, 359), st.floats(0, 40))
def test_heading_with_the_crab_keeps_the_track_on_the_course(
    course: float, knots: float, wind_to: float, wind_kt: float
) -> None:
    wind = (wind_kt * KNOT * math.sin(wind_to), wind_kt * KNOT * math.cos(wind_to))
    way = course * DEGREE
    heading = way + guidance.crab_angle(way, knots * KNOT, wind)
    east, north = guidance.over_ground(knots * KNOT, heading, 0.0, wind)
    assert math.remainder(math.atan2(east, north) - way, 2 * math.pi) == pytest.approx(0, abs=1e-6)
