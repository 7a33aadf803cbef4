"""Engine and propeller: closed forms, and what JSBSim's own do."""

import math
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.flight.airplane import load
from coach.flight.atmosphere import SEA_LEVEL_DENSITY, density, power_ratio
from coach.flight.fit import derive
from coach.flight.propeller import FixedPitch
from coach.script.quantities import FOOT, KNOT, POUND, STANDARD_GRAVITY


def _of_fixed_pitch(name: str) -> FixedPitch:
    propeller = derive(load(name)).propeller
    assert isinstance(propeller, FixedPitch)
    return propeller


PROPELLER = _of_fixed_pitch("meadow-four")

throttles, speeds, airs = st.floats(0.02, 1.0), st.floats(20.0, 75.0), st.floats(0.8, 1.3)


@given(throttles, speeds, airs)
def test_the_propeller_takes_what_the_engine_gives(
    throttle: float, speed: float, air: float
) -> None:
    # By definition: P = CP rho n^3 d^5, with CP falling with the square of the advance ratio.
    power = PROPELLER.output(throttle, speed, air).power * PROPELLER.rated_power
    turns = PROPELLER.output(throttle, speed, air).turns
    advance = speed / (turns * PROPELLER.diameter)
    coefficient = PROPELLER.static * (1.0 - advance**2 / 2.0)
    taken = coefficient * air * turns**3 * PROPELLER.diameter**5
    assert power == pytest.approx(taken, rel=1e-3)


@given(throttles, speeds, airs)
def test_thrust_and_power_lie_on_the_linear_propeller_polar(
    throttle: float, speed: float, air: float
) -> None:
    # Lowry, JAAER 6 (1995) no. 1: CT / J^2 is linear in CP / J^2; here where no blade stalls.
    turns, diameter = PROPELLER.output(throttle, speed, air).turns, PROPELLER.diameter
    advance = speed / (turns * diameter)
    if advance < 0.5:
        return
    thrust = PROPELLER.output(throttle, speed, air).thrust / (air * turns**2 * diameter**4)
    power = PROPELLER.output(throttle, speed, air).power * PROPELLER.rated_power
    power /= air * turns**3 * diameter**5
    offset = -PROPELLER.drag_area / (2.0 * diameter**2)
    assert thrust == pytest.approx(PROPELLER.slope * power + offset * advance**2, abs=1e-9)


@pytest.mark.parametrize("name", ["meadow-four", "hillside-four"])
@given(throttles, speeds, airs)
def test_a_throttle_is_found_again_by_its_power_and_by_its_thrust(
    name: str, throttle: float, speed: float, air: float
) -> None:
    propeller = derive(load(name)).propeller
    power = propeller.output(throttle, speed, air).power
    assert propeller.throttle_for_power(power, speed, air) == pytest.approx(throttle, abs=2e-3)
    thrust = propeller.output(throttle, speed, air).thrust
    if thrust > 0.0 and throttle > 0.12:
        assert propeller.throttle_for_thrust(thrust, speed, air) == pytest.approx(
            throttle, abs=5e-3
        )


def test_wide_open_the_torque_stays_and_nearly_closed_the_power() -> None:
    # Any engine text: a throttle nearly closed chokes, and lets a fixed flow of air through.
    for throttle, stays in ((1.0, "torque"), (0.03, "power")):
        values = []
        for speed in (30.0, 60.0):
            power = PROPELLER.output(throttle, speed, SEA_LEVEL_DENSITY).power
            turns = PROPELLER.output(throttle, speed, SEA_LEVEL_DENSITY).turns
            values.append(power if stays == "power" else power / turns)
        assert values[0] == pytest.approx(values[1], rel=0.04)


def test_full_throttle_falls_with_density_as_published() -> None:
    # Gagg and Ferrar, SAE Journal 1934 (from memory), at the same revolutions.
    high = density(6000 * FOOT)
    torque = [
        PROPELLER.output(1.0, 50.0, air).power / PROPELLER.output(1.0, 50.0, air).turns
        for air in (SEA_LEVEL_DENSITY, high)
    ]
    assert torque[1] / torque[0] == pytest.approx(power_ratio(high), rel=1e-6)


def test_a_constant_speed_propeller_says_no_revolutions() -> None:
    assert math.isnan(derive(load("hillside-four")).propeller.output(0.7, 60.0, 1.0).turns)


@pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")
@pytest.mark.parametrize("kt", [70, 90, 110])
def test_the_derived_propeller_is_jsbsim_s(kt: int) -> None:
    # JSBSim (PyPI package jsbsim), model c172p at 55 % of its power, held at a speed; the airplane
    # file holds handbook numbers measured on it. More of them: tests.bench.propeller.
    from tests.reference.measure_airplane import Trial

    plane = load("tests/reference/c172p.yaml")
    propeller = derive(plane).propeller
    flown = Trial("c172p", 1880.0, 174.0).climb(float(kt), 88.0)
    speed, air = flown.tas_kt * KNOT, density(flown.altitude_ft * FOOT)
    throttle = propeller.throttle_for_power(0.55, speed, air)
    thrust = propeller.output(throttle, speed, air).thrust / POUND / STANDARD_GRAVITY
    assert thrust == pytest.approx(flown.thrust_lbf, rel=0.03)
    assert 60.0 * propeller.output(throttle, speed, air).turns == pytest.approx(flown.rpm, rel=0.01)
