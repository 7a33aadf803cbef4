"""What the outside reference, flown by JSBSim, promises to whoever compares a flight with it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("jsbsim", reason="JSBSim is not installed here")

from coach.problems import Problem
from tests.reference.jsbsim_flight import Flown, fly
from tests.reference.measure_airplane import Trial, built

GROSS_LB = 2950.0


def swing(
    duration_s: float, highest_deg: float, steepest_deg: float, **entry: Any
) -> tuple[Flown, np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """A smooth swing up, over, down and out, with the pitch and bank that were asked for."""
    times = np.linspace(0.0, duration_s, 200)

    def wanted(at: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
        turn = 2.0 * np.pi * at / duration_s
        bell = 0.5 * (1.0 - np.cos(turn))
        return highest_deg * np.sin(turn) * bell / 0.65, steepest_deg * bell

    flown = fly("c182", times, *wanted(times), **entry)
    return flown, *wanted(flown.t_s)


def test_level_flight_stays_as_trimmed() -> None:
    still = [0.0, 60.0]
    flown = fly("c182", still, [0, 0], [0, 0], entry_ias_kt=105, altitude_ft=5000, weight_lb=2700)
    assert np.abs(flown.altitude_ft - 5000.0).max() < 5.0
    assert np.abs(flown.ias_kt - 105.0).max() < 0.5
    # Rudder against the propeller pushes the airplane sideways: about 0.015 deg/s with level wings.
    assert np.abs(flown.turned_deg).max() < 1.5
    assert np.ptp(flown.power_hp) < 2.0


@settings(max_examples=12, deadline=None)
@given(
    duration_s=st.floats(28.0, 45.0),
    highest_deg=st.floats(2.0, 12.0),
    steepest_deg=st.floats(-35.0, 35.0),
)
def test_a_smooth_schedule_is_followed_closely(
    duration_s: float, highest_deg: float, steepest_deg: float
) -> None:
    flown, pitch, bank = swing(
        duration_s, highest_deg, steepest_deg, entry_ias_kt=105, altitude_ft=5000, weight_lb=2700
    )
    assert np.abs(flown.pitch_deg - pitch).max() < 0.5
    assert np.abs(flown.bank_deg - bank).max() < 1.0
    assert np.abs(flown.sideslip_deg).max() < 0.5


def test_a_level_turn_turns_as_fast_as_the_formula_says() -> None:
    # Rate of turn: g tan(bank) / V with g = 9.80665 m/s2 (any aerodynamics text), times the cosine
    # of a small path angle that is left out here. Pitch is raised a little to keep the altitude.
    times = np.linspace(0.0, 40.0, 81)
    rolled = np.clip(times / 8.0, 0.0, 1.0) ** 2 * (3.0 - 2.0 * np.clip(times / 8.0, 0.0, 1.0))
    flown = fly(
        "c182", times, 1.5 * rolled, 30.0 * rolled,
        entry_ias_kt=105, altitude_ft=5000, weight_lb=2700,
    )  # fmt: skip
    steady = flown.t_s > 15.0
    rate = np.gradient(flown.turned_deg, flown.t_s)[steady].mean()
    speed = (flown.tas_kt[steady] * 1852.0 / 3600.0).mean()
    assert rate == pytest.approx(math.degrees(9.80665 * math.tan(math.radians(30.0)) / speed), 0.01)


@pytest.mark.parametrize("weight_lb", [1900.0, 2280.0, 2950.0])
def test_weight_is_as_asked_and_carried_by_the_lift(weight_lb: float) -> None:
    flown = fly(
        "c182", [0, 5], [0, 0], [0, 0], entry_ias_kt=105, altitude_ft=5000, weight_lb=weight_lb
    )
    assert flown.weight_lb == pytest.approx(weight_lb, abs=0.1)
    # The thrust line is nearly level, so lift over weight is one to within half a percent.
    assert flown.load_factor == pytest.approx(np.ones_like(flown.t_s), abs=0.005)


def test_power_is_held_at_what_is_asked_while_the_speed_changes() -> None:
    flown, _, _ = swing(
        33.0, 10.0, 30.0, entry_ias_kt=105, altitude_ft=5000, weight_lb=2700, power_hp=130.0
    )
    assert np.ptp(flown.ias_kt) > 15.0
    assert np.abs(flown.power_hp[flown.t_s > 6.0] - 130.0).max() < 1.5


def test_a_warm_day_is_flown_faster_through_the_air_at_the_same_indicated_speed() -> None:
    def true_airspeed(warmer_c: float) -> float:
        flown = fly(
            "c182", [0, 1], [0, 0], [0, 0],
            entry_ias_kt=105, altitude_ft=5000, weight_lb=2700, warmer_c=warmer_c,
        )  # fmt: skip
        return float(flown.tas_kt[-1])

    # Standard temperature at 5,000 ft is 278.24 K (ICAO Doc 7488); density goes with its inverse.
    expected = math.sqrt((278.24 + 20.0) / 278.24)
    assert true_airspeed(20.0) / true_airspeed(0.0) == pytest.approx(expected, abs=0.001)


def test_nothing_is_printed_and_no_file_is_left(
    capfd: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for model in ("c182", "c172x"):  # the second one would write a log of its own
        fly(model, [0, 1], [0, 0], [0, 0], entry_ias_kt=90, altitude_ft=5000, weight_lb=2300)
    assert capfd.readouterr() == ("", "")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"model": "no-such-model"}, "JSBSim has no model no-such-model."),
        ({"model": "f16"}, "JSBSim's f16 has no piston engine."),
        ({"weight_lb": 1500.0}, "1500 lb is less than the empty model weighs."),
        ({"entry_ias_kt": 30.0}, "JSBSim's c182 cannot be trimmed at 30 kt and 5000 ft."),
    ],
)
def test_what_cannot_be_flown_is_said_in_one_sentence(
    change: dict[str, Any], sentence: str
) -> None:
    asked: dict[str, Any] = {"model": "c182", "entry_ias_kt": 105.0, "weight_lb": 2700.0}
    with pytest.raises(Problem) as problem:
        fly(times_s=[0, 1], pitch_deg=[0, 0], bank_deg=[0, 0], altitude_ft=5000.0, **asked | change)
    assert str(problem.value) == sentence


def numbers(sheet: dict[str, Any]) -> dict[str, float]:
    """The leading number of every value with a unit."""
    return {key: float(str(value).split()[0]) for key, value in sheet.items()}


def test_the_airplane_file_says_what_the_model_measures() -> None:
    sheet = yaml.safe_load((Path(__file__).parent / "c182.yaml").read_text(encoding="utf-8"))
    model = built("c182")
    trial = Trial("c182", GROSS_LB, model.wing_area_sqft)
    speeds, cruise = numbers(sheet["speeds"]), numbers(sheet["cruise"])
    assert numbers(sheet["weights"]) == {"empty": model.empty_lb, "gross": GROSS_LB}
    assert numbers(sheet["wing"]) == {"area": model.wing_area_sqft, "span": model.span_ft}
    assert sheet["engine"] == {
        "rated power": f"{model.rated_hp:.0f} hp",
        "rated revolutions": f"{model.rated_rpm:.0f} rpm",
        "propeller diameter": f"{model.propeller_in:.0f} in",
        "propeller": "constant speed" if model.constant_speed else "fixed pitch",
    }
    assert speeds["stall"] == pytest.approx(trial.stall(), abs=0.6)
    flown = trial.cruise(cruise["power"] / 100.0 * model.rated_hp)
    assert cruise["speed"] == pytest.approx(flown.tas_kt, abs=0.6)
    best = trial.glide(speeds["best glide"]).glide_ratio
    assert sheet["glide ratio"] == pytest.approx(best, abs=0.06)
    for other in (-8.0, 8.0):
        assert trial.glide(speeds["best glide"] + other).glide_ratio < best
    climb = numbers(sheet["climb"])
    risen = trial.climb(climb["speed"], math.inf)
    assert climb["rate"] == pytest.approx(-60.0 * risen.sink_fps, rel=0.02)
