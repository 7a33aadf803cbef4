"""A checkpoint that is named by the wind lies where the wind is what its name says."""

import math

import pytest

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import DEGREE

OFF_THE_NOSE_DEG = {
    "into the wind": 0.0,
    "upwind": 0.0,
    "third upwind": 0.0,
    "crosswind": 90.0,
    "crosswind again": 90.0,
    "downwind": 180.0,
}
"""How far off the nose the wind comes from, by a checkpoint's name."""

GROUND_REFERENCE = (
    "eights-on-pylons",
    "turns-around-a-point",
    "s-turns",
    "steep-spiral",
    "rectangular-course",
)


def flown(name: str, direction: str) -> Flight:
    script, plane = maneuver(name), load("meadow-four")
    return plan(script, plane, conditions(Day(direction=direction), script, plane))


@pytest.mark.parametrize("direction", ["right", "left"])
@pytest.mark.parametrize("name", GROUND_REFERENCE)
def test_a_name_of_the_wind_is_true_in_every_loop(name: str, direction: str) -> None:
    flight = flown(name, direction)
    wind = flight.conditions.wind_from / DEGREE
    for moment in flight.moments:
        if moment.name in OFF_THE_NOSE_DEG:
            off = abs(math.remainder(wind - moment.heading_deg, 360.0))
            assert off == pytest.approx(OFF_THE_NOSE_DEG[moment.name], abs=5.0), moment


@pytest.mark.parametrize("direction", ["right", "left"])
def test_the_eight_is_fastest_at_the_roll_in_and_lowest_into_the_wind(direction: str) -> None:
    flight = flown("eights-on-pylons", direction)
    for loop, side in enumerate(flight.sides, start=1):
        span = next(one for one in flight.spans if (one.loop, one.leg) == (loop, "pylon"))
        around = flight.at([span.start_s + 0.5 * second for second in range(1, 90)])
        assert around["groundspeed_kt"].argmax() < 4
        named = {one.name: one.altitude_ft for one in flight.moments if one.loop == loop}
        assert min(named, key=lambda one: named[one]) == "into the wind", side
