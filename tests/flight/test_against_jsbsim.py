"""The model against JSBSim's six degrees of freedom, flying the same bank, nose and power.

JSBSim: the PyPI package jsbsim, models c182 and c172p; their airplane files were measured on them.
How each maneuver is flown, and what is held, is told in tests/reference/compare.py.
"""

import dataclasses
import sys

import pytest

from coach.flight.airplane import load

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")

TARGETS = {"time_percent": 2.0, "speed_kt": 2.0, "altitude_ft": 30.0, "heading_deg": 3.0}

# What comes out wider than the targets, by how much it may, and why; each cause was measured.
WIDER = {
    # An elevator held up, and c172p's sideslip with the ball in the middle, have a drag there that
    # no handbook's row has: 5 lbf of 377 and 24 of 283 at 45 degrees of bank.
    ("c182", "steep-spiral"): {"altitude_ft": 62.0},
    ("c172p", "steep-spiral"): {"altitude_ft": 210.0, "heading_deg": 7.3},
    # A climb is what thrust leaves of drag: of c182's at 55 %, 1.5 % of drag is 14 %. The power
    # prescribed at full throttle is 1.2 % less than its engine gives.
    ("c182", "climb-at-constant-speed"): {
        "time_percent": 5.0, "altitude_ft": 37.0, "speed_kt": 2.7,
    },
    ("c182", "climb-at-constant-speed at 55 %"): {
        "time_percent": 9.2, "altitude_ft": 67.0, "speed_kt": 5.9,
    },
    ("c172p", "climb-at-constant-speed"): {"time_percent": 2.2},
    ("c172p", "climb-at-constant-speed at 55 %"): {"time_percent": 6.2, "altitude_ft": 38.0},
    # It comes to the top a knot slower, and so turns faster there.
    ("c172p", "lazy-eight"): {"time_percent": 2.6},
    # Its engine idles faster lower down: the propeller holds back 15 lbf at 6,000 ft, where the
    # handbook's glide was measured, and 8 at 3,300 ft.
    ("c172p", "power-off-glide"): {"time_percent": 5.8, "altitude_ft": 82.0},
    ("c172p", "level-deceleration"): {"time_percent": 2.2},
}  # fmt: skip


@pytest.mark.parametrize(
    ("model", "alone"),
    [("c182", False), ("c182", True), ("c172p", True)],
    ids=["c182, power prescribed", "c182, throttle left alone", "c172p, throttle left alone"],
)
@pytest.mark.parametrize(
    "name",
    [
        "lazy-eight",
        "chandelle",
        "chandelle at 75 %",
        "steep-turn-50",
        "steep-spiral",
        "standard-rate-turns",
        "climb-at-constant-speed",
        "climb-at-constant-speed at 55 %",
        "power-off-glide",
        "level-deceleration",
    ],
)
def test_every_checkpoint_comes_when_and_where_jsbsim_has_it(
    name: str, model: str, alone: bool
) -> None:
    from tests.reference import compare

    known = {one.name: one for one in compare.TRIALS}
    trial = dataclasses.replace(known[name], alone=alone)
    rows = compare.compare(model, load(f"tests/reference/{model}.yaml"), trial)
    assert len(rows) >= 3
    for row in rows:
        for what, limit in (TARGETS | WIDER.get((model, name), {})).items():
            assert not abs(getattr(row, what)) > limit, row


def test_the_table_shows_a_checkpoint_with_its_differences() -> None:
    from tests.reference import compare

    row = compare.Row("Loop", "left", "top", 12.0, 1.25, -0.5, 7.0, 0.0)
    assert compare.table([row]).splitlines()[-1] == (
        "| Loop, left | top | 12.0 | +1.2 | -0.5 | +7 | +0.0 |"
    )
