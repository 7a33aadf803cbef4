"""The rudder index: how much there is, and that it keeps its order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.controls import rudder
from coach.flight.day import Day
from coach.flight.fit import derive
from coach.flight.motion import Forces
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import DEGREE

PLANE = derive(load("meadow-four"))
SLOW = Forces(
    alpha=0.1, lift_coefficient=PLANE.greatest_lift, load_factor=1.0, acceleration=0.0,
    turn_rate=0.0, path_rate=0.0, thrust=0.0, power=0.0, turns=0.0,
)  # fmt: skip


@given(st.floats(0.0, 1.0), st.floats(-40.0, 40.0))
def test_however_hard_it_is_asked_for_there_is_no_more_rudder_than_one(
    power: float, roll_dps: float
) -> None:
    assert -1.0 <= rudder(PLANE, slow_at(power), roll_dps * DEGREE) <= 1.0


@given(st.floats(-20.0, 20.0), st.floats(0.1, 5.0), st.floats(0.0, 0.9))
def test_more_roll_or_more_power_asks_for_more_rudder_to_the_right(
    roll_dps: float, more: float, power: float
) -> None:
    asked = rudder(PLANE, slow_at(power), roll_dps * DEGREE)
    assert rudder(PLANE, slow_at(power), (roll_dps + more) * DEGREE) > asked
    assert rudder(PLANE, slow_at(power + 0.1), roll_dps * DEGREE) > asked


@pytest.mark.parametrize("name", ["accelerated-stall", "power-off-180"])
def test_the_maneuvers_that_ask_for_most_stay_within_it(name: str) -> None:
    script, plane = maneuver(name), load("meadow-four")
    flight = plan(script, plane, conditions(Day(wind="calm"), script, plane))
    assert 0.8 < np.abs(flight.table()["rudder"]).max() <= 1.0


def slow_at(power: float) -> Forces:
    """Level and near the stall, at a share of rated power."""
    return SLOW._replace(power=power)
