"""What a maneuver is flown by on the ground, found again from the track that was flown."""

import math

import numpy as np
import pytest

from coach.flight.flight import Flight
from coach.flight.ground import GroundReference, by_the_ground, ground_references
from coach.flight.history import Floats
from tests.flight.test_ground_reference import every_day, flown


def middle(flight: Flight, leg: str, loop: int) -> dict[str, Floats]:
    """The table of the middle half of a leg."""
    span = next(one for one in flight.spans if one.leg == leg and one.loop == loop)
    part = 0.25 * (span.end_s - span.start_s)
    return flight.at(np.arange(span.start_s + part, span.end_s - part, 0.1))


def beyond(row: dict[str, Floats], line: GroundReference) -> Floats:
    """How far places are off the line through two corners, ft."""
    (x, y), (end_x, end_y) = line.corners
    length = math.hypot(end_x - x, end_y - y)
    across = (row["east_ft"] - x) * (end_y - y) - (row["north_ft"] - y) * (end_x - x)
    return np.asarray(across / length)


@every_day
def test_a_circle_is_flown_at_one_distance_from_its_point(day: str) -> None:
    flight = flown("turns-around-a-point", day)
    points = ground_references(flight)
    assert [point.name for point in points] == ["point", "point"]
    for loop, point in enumerate(points, 1):
        row = middle(flight, "circle", loop)
        away = np.hypot(row["east_ft"] - point.corners[0][0], row["north_ft"] - point.corners[0][1])
        assert away == pytest.approx(away.mean(), rel=0.01)


@every_day
def test_a_pylon_is_off_the_wing_tip(day: str) -> None:
    flight = flown("eights-on-pylons", day)
    pylons = ground_references(flight)
    assert [pylon.name for pylon in pylons] == ["pylon", "pylon"]
    for loop, pylon in enumerate(pylons, 1):
        row = middle(flight, "pylon", loop)
        ((east, north),) = pylon.corners
        bearing = np.degrees(np.arctan2(east - row["east_ft"], north - row["north_ft"]))
        off = (bearing - row["heading_deg"] + 180.0) % 360.0 - 180.0
        assert off == pytest.approx(flight.sides[loop - 1] * 90.0, abs=2.0)


@every_day
def test_an_s_turn_crosses_its_line_where_the_coach_says_so(day: str) -> None:
    flight = flown("s-turns", day)
    (line,) = ground_references(flight)
    assert line.name == "line"
    for moment in flight.moments:
        if moment.name == "line":
            assert abs(beyond(flight.at([moment.time_s]), line)[0]) < 60.0


@every_day
def test_a_field_is_gone_around_at_one_distance_from_its_edges(day: str) -> None:
    flight = flown("rectangular-course", day)
    (field,) = ground_references(flight)
    edges = [
        GroundReference("line", (one, other))
        for one, other in zip(field.corners, (*field.corners[1:], field.corners[0]), strict=True)
    ]
    away = [
        abs(beyond(middle(flight, leg, 1), edge).mean())
        for leg, edge in zip(("base", "upwind", "crosswind"), edges, strict=False)
    ]
    assert away == pytest.approx([away[0]] * 3, rel=0.1)


@pytest.mark.parametrize("maneuver", ["traffic-pattern", "power-off-180", "short-field-landing"])
def test_a_landing_is_on_its_runway_and_final_leads_to_it(maneuver: str) -> None:
    flight = flown(maneuver, "the trainer on the usual wind")
    (runway,) = ground_references(flight)
    assert runway.name == "runway"
    touchdown = flight.at([flight.length_s])
    (east, north), far = runway.corners
    short, along = np.array([east, north]), np.subtract(far, runway.corners[0])
    place = np.array([touchdown["east_ft"][0], touchdown["north_ft"][0]])
    assert 0.0 < (place - short) @ along / (along @ along) < 1.0
    assert abs(beyond(middle(flight, "final", 1), runway)).max() < 120.0


def test_a_maneuver_up_high_goes_by_nothing_on_the_ground() -> None:
    for maneuver in ("lazy-eight", "power-off-stall", "engine-failure"):
        flight = flown(maneuver, "the trainer on the usual wind")
        assert not by_the_ground(flight)
        assert ground_references(flight) == ()
    holding = flown("holding-pattern", "the trainer on the usual wind")
    assert by_the_ground(holding) and ground_references(holding) == ()
