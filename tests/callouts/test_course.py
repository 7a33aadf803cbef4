"""What the airplane does along the soundtrack."""

import numpy as np
import pytest

from coach.callouts.sheet import cue_sheet
from coach.flight.flight import Flight
from tests.callouts.flown import flown


@pytest.fixture(scope="module")
def flight() -> Flight:
    return flown("lazy-eight")


def test_the_course_follows_the_flight_at_its_pace_and_stands_still_around_it(
    flight: Flight,
) -> None:
    sheet = cue_sheet(flight, {}, pace=0.8)
    course = sheet.course
    assert (course.time_s[0], course.time_s[-1]) == (0.0, sheet.length_s)
    assert 0.0 < np.diff(course.time_s).min() <= np.diff(course.time_s).max() < 0.0501
    for moment in flight.moments[:-1]:
        at = sheet.position_s(moment.time_s)
        speed = np.interp(at, course.time_s, course.speed_kt)
        assert speed == pytest.approx(moment.ias_kt, abs=0.1)
        margin = np.interp(at, course.time_s, course.margin_kt)
        assert margin == pytest.approx(moment.stall_margin_kt, abs=0.1)
    before = course.time_s <= sheet.flight_start_s
    assert set(course.speed_kt[before]) == {course.speed_kt[0]}
    after = course.time_s >= sheet.position_s(flight.length_s)
    assert after.sum() > 20
    assert set(course.rudder[after]) == {course.rudder[-1]}
    assert course.power[before] == pytest.approx(flight.power)
    assert np.ptp(course.power) < 0.1 * flight.power  # the throttle is left alone


def test_the_course_of_a_glide_has_no_power_and_of_a_go_around_nearly_all() -> None:
    glide = cue_sheet(flown("steep-spiral"), {}).course.power
    assert glide.max() == 0.0
    power = cue_sheet(flown("go-around"), {}).course.power
    assert 0.8 < power.max() <= 1.0
