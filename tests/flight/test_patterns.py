"""Traffic pattern, short-field landing, go-around, power-off 180: held to their standards."""

import math
from functools import cache

import numpy as np
import pytest

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import KNOT
from tests.flight.speeds import speed_kt

WINDS = {"traffic-pattern": "behind", "power-off-180": "behind"}
"""From where the entry heading has a wind that is ahead on final."""

every_wind = pytest.mark.parametrize("knots", [0, 8, 15])


@cache
def flown(name: str, knots: int, direction: str | None = None) -> Flight:
    script, airplane = maneuver(name), load("meadow-four")
    day = Day(wind=f"{WINDS.get(name, 'ahead')}@{knots}", heading="0", direction=direction)
    return plan(script, airplane, conditions(day, script, airplane))


def at(flight: Flight, name: str) -> dict[str, float]:
    """The row of the table at a checkpoint."""
    when = next(one.time_s for one in flight.moments if one.name == name)
    return {key: float(column[0]) for key, column in flight.at([when]).items()}


def path_over_ground(flight: Flight, leg: str) -> float:
    """Mean descent over the ground of a leg, degrees."""
    span = next(one for one in flight.spans if one.leg == leg)
    rows = flight.at([span.start_s, span.end_s - 0.01])
    way = math.hypot(float(np.ptp(rows["east_ft"])), float(np.ptp(rows["north_ft"])))
    return math.degrees(math.atan(float(np.ptp(rows["height_ft"])) / way))


@every_wind
def test_the_pattern_has_its_heights_and_speeds_at_the_key_points(knots: int) -> None:
    # FAA-S-ACS-6, from memory: pattern height within 100 ft, approach at 1.3 stall, +10 -5 kt.
    flight = flown("traffic-pattern", knots)
    stall = speed_kt(flight, "stall")
    abeam, base, final = (at(flight, one) for one in ("abeam", "base", "final"))
    assert abeam["height_ft"] == pytest.approx(1000.0, abs=20.0)
    assert abeam["ias_kt"] == pytest.approx(1.7 * stall, abs=2.0)
    assert 450.0 < base["height_ft"] < 850.0
    assert final["height_ft"] == pytest.approx(400.0, abs=20.0)
    assert at(flight, "flare")["ias_kt"] == pytest.approx(1.3 * stall, abs=1.5)


@every_wind
def test_final_comes_down_three_degrees_over_the_ground_whatever_the_wind(knots: int) -> None:
    # FAA-H-8083-3C ch. 9, from memory: the path of a normal, stabilised approach.
    assert path_over_ground(flown("traffic-pattern", knots), "final") == pytest.approx(3.0, abs=0.2)


@every_wind
def test_a_short_field_is_approached_more_steeply(knots: int) -> None:
    steep = path_over_ground(flown("short-field-landing", knots), "final")
    assert 4.0 < steep < 6.0
    assert steep > path_over_ground(flown("traffic-pattern", knots), "final") + 1.0


@every_wind
def test_the_power_off_180_touches_down_within_200_ft_beyond_the_point(knots: int) -> None:
    # FAA-S-ACS-7, task IV.M. The point is abeam of the checkpoint 'abeam', and flown to southward.
    flight = flown("power-off-180", knots)
    beyond = at(flight, "abeam")["north_ft"] - at(flight, "touchdown")["north_ft"]
    assert 0.0 < beyond < 200.0
    # With the power off, height and speed together only ever pay.
    abeam = next(one.time_s for one in flight.moments if one.name == "abeam")
    rows = flight.at(np.arange(abeam + 0.5, flight.length_s, 0.5))
    energy = rows["height_ft"] + (rows["tas_kt"] * 1.6878) ** 2 / (2.0 * 32.174)
    assert (np.diff(energy) < 0.0).all()


@every_wind
def test_the_short_field_landing_touches_down_within_100_ft_beyond_the_point(knots: int) -> None:
    # FAA-S-ACS-7, task IV.F, from memory; the point lies 6,000 ft ahead of the beginning.
    assert 0.0 < at(flown("short-field-landing", knots), "touchdown")["north_ft"] - 6000.0 < 100.0


@every_wind
@pytest.mark.parametrize(
    ("name", "beside_ft"),
    [("traffic-pattern", 4500.0), ("power-off-180", 3000.0), ("short-field-landing", 0.0)],
)
def test_a_landing_touches_down_on_the_centreline_and_along_it(
    name: str, beside_ft: float, knots: int
) -> None:
    flight = flown(name, knots)
    touchdown = at(flight, "touchdown")
    # A left-hand pattern has its runway to the west of a downwind flown north.
    assert -touchdown["east_ft"] == pytest.approx(beside_ft, abs=60.0)
    final = next(one for one in flight.spans if one.leg == "final")
    rows = flight.at(np.arange(0.5 * (final.start_s + final.end_s), flight.length_s, 0.5))
    assert np.abs(rows["east_ft"] - touchdown["east_ft"]).max() < 10.0
    assert touchdown["height_ft"] == pytest.approx(0.0, abs=1.0)
    assert abs(touchdown["bank_deg"]) < 0.5
    assert touchdown["stall_margin_kt"] > 0.0


@pytest.mark.parametrize("plane", ["hillside-four", "hedgerow-two"])
@pytest.mark.parametrize("name", ["traffic-pattern", "short-field-landing", "power-off-180"])
def test_a_flare_takes_its_height_and_time_from_the_airplane(name: str, plane: str) -> None:
    script, airplane = maneuver(name), load(plane)
    flight = plan(script, airplane, conditions(Day(), script, airplane))
    flare, touchdown = at(flight, "flare"), at(flight, "touchdown")
    # About 1.15 times the stall at touchdown, no more than 1.2 g in the round-out: aircraft design
    # texts, from memory. Ten to twenty feet, FAA-H-8083-3C ch. 9, from memory, are for a normal
    # approach; a steeper or faster one asks for more.
    assert touchdown["ias_kt"] / speed_kt(flight, "stall") == pytest.approx(1.15, abs=0.03)
    assert -150.0 < touchdown["climb_fpm"] < -60.0
    span = next(one for one in flight.spans if one.leg == "flare")
    assert flight.at(np.arange(span.start_s, span.end_s, 0.1))["load_factor"].max() < 1.2
    assert 5.0 < flare["height_ft"] < (28.0 if name == "traffic-pattern" else 50.0)
    # Energy: at idle, what slows it is its drag over its weight, less the slope it comes down.
    seconds = touchdown["t_s"] - flare["t_s"]
    lost = (flare["tas_kt"] - touchdown["tas_kt"]) * KNOT / (9.80665 * seconds)
    slope = flare["height_ft"] * 0.3048 / (0.5 * (flare["tas_kt"] + touchdown["tas_kt"]) * KNOT)
    glide = 1.0 / airplane.glide_ratio
    assert lost + slope / seconds == pytest.approx(glide, rel=0.35)


@every_wind
def test_the_go_around_climbs_away_at_once_and_never_meets_the_ground(knots: int) -> None:
    flight = flown("go-around", knots)
    begun, positive = at(flight, "going around"), at(flight, "positive rate")
    assert positive["climb_fpm"] > 0.0 > begun["climb_fpm"]
    assert flight.table()["height_ft"].min() > begun["height_ft"] - 30.0
    best_rate = load("meadow-four").speeds.best_rate
    assert best_rate is not None
    assert at(flight, "climbing")["ias_kt"] == pytest.approx(best_rate / KNOT, abs=2.0)
    assert flight.table()["stall_margin_kt"].min() > 10.0


def test_a_pattern_is_flown_to_its_usual_side_unless_the_day_says_another() -> None:
    usual = flown("traffic-pattern", 8)
    other = flown("traffic-pattern", 8, "right")
    assert at(usual, "touchdown")["east_ft"] < 0.0 < at(other, "touchdown")["east_ft"]


@pytest.mark.parametrize("name", ["traffic-pattern", "power-off-180"])
def test_a_pattern_in_a_crosswind_rolls_out_on_each_course_with_its_crab(name: str) -> None:
    script, airplane = maneuver(name), load("meadow-four")
    flight = plan(script, airplane, conditions(Day(wind="090@12", heading="0"), script, airplane))
    for leg in ("base", "final"):
        span = next(one for one in flight.spans if one.leg == leg)
        rows = flight.at(np.arange(span.start_s, span.end_s, 0.2))
        # No second turn once the wings are level, but for what the change of speed asks for.
        assert np.abs(rows["bank_deg"]).max() < 3.0
    final = next(one for one in flight.spans if one.leg == "final")
    rows = flight.at([final.end_s])
    # sin(crab) = cross wind over true airspeed: the wind triangle. A final is flown to the south.
    crab = math.degrees(math.asin(12.0 / rows["tas_kt"][0]))
    assert rows["heading_deg"][0] == pytest.approx(180.0 - crab, abs=0.5)
