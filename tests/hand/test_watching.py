"""Promises of what is told of a sensor that does not read a hand."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from coach.hand.motion import Motion
from coach.hand.readings import NONE, Floats, Readings
from coach.hand.watching import TROUBLES, Trouble, Watch, What
from tests.hand.simulated import Simulated, mounting

LEVEL = Motion((0.0, 20.0), (0.0, 0.0), (0.0, 0.0))


def hand(at_s: Floats, deg: float = 0.3) -> Readings:
    """A hand that holds level, with so much of noise."""
    still = Simulated(LEVEL, seed=8, noise_deg=deg, drift_deg_per_min=0.0)
    return Readings(at_s, still.up(at_s, mounting(8)))


def fed(readings: Readings, until_s: float) -> list[Trouble | None]:
    """What is told ten times a second, until then, in batches as they come."""
    watch, told, taken = Watch(0.0), [], 0
    for now in np.arange(0.1, until_s, 0.1):
        new = slice(taken, taken := int(np.searchsorted(readings.at_s, now)))
        told.append(watch.feed(Readings(readings.at_s[new], readings.up[new]), now))
    return told


def every(hz: float, until_s: float) -> Floats:
    return np.arange(0.0, until_s, 1.0 / hz)


@pytest.mark.parametrize("hz", [10.0, 20.0, 60.0])
def test_a_hand_that_is_read_well_has_no_trouble(hz: float) -> None:
    assert set(fed(hand(every(hz, 12.0)), 12.0)) == {None}


@pytest.mark.parametrize("hz", [20.0, 60.0])
def test_a_tenth_of_a_degree_is_fine_enough_for_the_stillest_hand(hz: float) -> None:
    # As a browser may round it, so that nobody is known by the errors of a sensor.
    still = hand(every(hz, 12.0), 0.15)
    rounded = Readings(still.at_s, np.radians(np.round(np.degrees(still.up), 1)))
    assert set(fed(rounded, 12.0)) == {None}


def test_nothing_at_all_and_nothing_any_more_are_told() -> None:
    assert fed(NONE, 1.4)[-1] is None
    assert fed(NONE, 2.0)[-1] == TROUBLES["silent"]
    stopped = fed(hand(every(50.0, 5.0)), 8.0)
    assert stopped[49] is None and stopped[-1] == TROUBLES["silent"]


def test_readings_that_come_back_are_no_trouble_any_more() -> None:
    at_s = every(50.0, 12.0)
    told = fed(hand(at_s[(at_s < 4.0) | (at_s > 8.0)]), 12.0)
    assert told[70] == TROUBLES["silent"]
    assert told[39] is None and set(told[82:]) == {None}


def test_a_few_readings_a_second_are_told() -> None:
    assert fed(hand(every(4.0, 6.0)), 6.0)[-1] == TROUBLES["few"]


def test_a_sensor_that_freezes_in_flight_is_told() -> None:
    moving = hand(every(50.0, 10.0), 3.0)
    moving.up[300:] = moving.up[300]
    told = fed(moving, 10.0)
    assert told[55] is None and told[-1] == TROUBLES["frozen"]


def test_a_phone_that_lies_on_a_table_is_told_and_one_that_is_taken_up_again_is_not() -> None:
    lying = hand(every(50.0, 10.0), 0.01)
    lying.up[400:] = hand(every(50.0, 2.0), 1.0).up
    told = fed(lying, 10.0)
    assert told[75] == TROUBLES["lying"] and told[-1] is None


def test_every_trouble_has_one_sentence() -> None:
    assert set(TROUBLES) == set(get_args(What))
    for what, trouble in TROUBLES.items():
        assert trouble.what == what
        assert trouble.sentence.endswith(".") and "\n" not in trouble.sentence
    assert len({trouble.sentence for trouble in TROUBLES.values()}) == len(TROUBLES)
