"""The model against JSBSim's six degrees of freedom, flying the same bank, nose and power.

JSBSim: the PyPI package jsbsim, model c182; its airplane file was measured on that model. How each
maneuver is flown, and what is held, is told in tests/reference/compare.py.
"""

import sys
from pathlib import Path

import pytest

from coach.flight.airplane import load

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")

TARGETS = {"time_percent": 3.0, "speed_kt": 3.0, "altitude_ft": 50.0, "heading_deg": 4.0}

# What comes out wider than the targets, by how much it may, and why:
# JSBSim's c182 turns about 1 % faster to the left than to the right at high power, because its
# rudder held against its propeller pushes it to the left (in part); the coach knows no such force.
# At full throttle its engine gives 3 to 8 % less than Gagg and Ferrar's formula says: the coach
# arrives higher at the top of a chandelle, and a little faster on the way, so it turns slower.
WIDER = {
    ("steep-turn-50", "left"): {"heading_deg": 5.5},
    ("chandelle", "right"): {"altitude_ft": 60.0},
    ("chandelle", "left"): {"altitude_ft": 65.0, "time_percent": 4.5, "heading_deg": 5.0},
}


@pytest.mark.parametrize("direction", ["right", "left"])
@pytest.mark.parametrize(
    "name",
    [
        "lazy-eight",
        "chandelle",
        "chandelle at 75 %",
        "steep-turn-50",
        "power-off-glide",
        "level-deceleration",
    ],
)
def test_every_checkpoint_comes_when_and_where_jsbsim_has_it(name: str, direction: str) -> None:
    from tests.reference import compare

    known = {
        Path(one.script).stem + (f" at {one.full}" if one.full else ""): one
        for one in compare.TRIALS
    }
    if direction not in known[name].directions:
        pytest.skip("straight ahead, so flown once")
    rows = compare.compare("c182", load("tests/reference/c182.yaml"), known[name])
    rows = [row for row in rows if row.direction == direction]
    assert len(rows) >= 3
    for row in rows:
        for what, limit in (TARGETS | WIDER.get((name, direction), {})).items():
            assert abs(getattr(row, what)) <= limit, row


def test_the_table_shows_a_checkpoint_with_its_differences() -> None:
    from tests.reference import compare

    row = compare.Row("Loop", "left", "top", 12.0, 1.25, -0.5, 7.0, 0.0)
    assert compare.table([row]).splitlines()[-1] == (
        "| Loop, left | top | 12.0 | +1.2 | -0.5 | +7 | +0.0 |"
    )
