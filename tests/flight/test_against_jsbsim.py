"""The model against JSBSim's six degrees of freedom, flying the same bank, nose and power.

JSBSim: the PyPI package jsbsim, model c182; its airplane file was measured on that model. How each
maneuver is flown, and what is held, is told in tests/reference/compare.py.
"""

import sys
from pathlib import Path

import pytest

from coach.flight.airplane import load

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")

TIME_PERCENT, SPEED_KT, ALTITUDE_FT, HEADING_DEG = 3.0, 3.0, 50.0, 4.0

TRIALS = ("lazy-eight", "chandelle", "steep-turn-50", "power-off-glide", "level-deceleration")


@pytest.mark.parametrize("name", TRIALS)
def test_every_checkpoint_comes_when_and_where_jsbsim_has_it(name: str) -> None:
    from tests.reference import compare

    trial = next(one for one in compare.TRIALS if Path(one.script).stem == name)
    rows = compare.compare("c182", load("tests/reference/c182.yaml"), trial)
    assert len(rows) >= 3
    for row in rows:
        assert abs(row.time_percent) <= TIME_PERCENT, row
        assert abs(row.speed_kt) <= SPEED_KT, row
        assert abs(row.altitude_ft) <= ALTITUDE_FT, row
        assert abs(row.heading_deg) <= HEADING_DEG, row


def test_the_table_shows_every_checkpoint_with_its_differences() -> None:
    from tests.reference import compare

    row = compare.Row("Loop", "left", "top", 12.0, 1.25, -0.5, 7.0, 0.0)
    assert compare.table([row]).splitlines()[-1] == (
        "| Loop, left | top | 12.0 | +1.2 | -0.5 | +7 | +0.0 |"
    )
