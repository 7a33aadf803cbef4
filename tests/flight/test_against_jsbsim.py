"""The model against JSBSim's six degrees of freedom, flying the same pitch, bank and power."""

import sys

import numpy as np
import pytest

from coach.flight.airplane import load
from coach.flight.day import Day, conditions
from coach.flight.plan import plan
from coach.script.library import maneuver
from coach.script.quantities import HORSEPOWER

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")

HEADING_DEG, SPEED_KT, ALTITUDE_FT = 4.0, 3.0, 40.0


@pytest.mark.parametrize("direction", ["right", "left"])
def test_a_loop_of_the_lazy_eight_comes_out_as_in_jsbsim(direction: str) -> None:
    # JSBSim (PyPI package jsbsim), model c182; its airplane file was measured on that model.
    from tests.reference.jsbsim_flight import fly

    script, plane = maneuver("lazy-eight"), load("tests/reference/c182.yaml")
    day = Day(weight="2700", altitude="5000", loops=1, direction=direction)
    flight = plan(script, plane, conditions(day, script, plane))
    times = np.append(np.arange(0.0, flight.length_s, 0.05), flight.length_s)
    wanted = flight.at(times)
    outside = fly(
        "c182",
        times,
        wanted["pitch_deg"],
        wanted["bank_deg"],
        entry_ias_kt=flight.entry_speed_kt,
        altitude_ft=5000.0,
        weight_lb=2700.0,
        power_hp=flight.power * plane.engine.rated_power / HORSEPOWER,
    )
    for moment in flight.moments:
        turned, speed, altitude = (
            float(np.interp(moment.time_s, outside.t_s, column))
            for column in (outside.turned_deg, outside.ias_kt, outside.altitude_ft)
        )
        assert turned * flight.sides[0] == pytest.approx(moment.turned_deg, abs=HEADING_DEG)
        assert speed == pytest.approx(moment.ias_kt, abs=SPEED_KT)
        assert altitude == pytest.approx(moment.altitude_ft, abs=ALTITUDE_FT)
