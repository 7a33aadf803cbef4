"""The flight room's facts against published formulas and worked examples."""

import math

import ambiance
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from coach.flight import guidance
from coach.flight.airplane import load
from coach.flight.atmosphere import (
    SEA_LEVEL_DENSITY,
    density,
    density_altitude,
    indicated_airspeed,
    power_ratio,
    pressure,
    standard_temperature,
    true_airspeed,
)
from coach.flight.curve import Curve, Knot, Stretch
from coach.flight.disk import disk_thrust
from coach.flight.fit import derive
from coach.flight.integration import fly
from coach.flight.motion import Machine, State, lift_bank, pitch_of
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND, STANDARD_GRAVITY

AIRPLANE = load("meadow-four")
PERFORMANCE = derive(AIRPLANE)
GROSS = AIRPLANE.weights.gross


def machine(throttle: float = 0.6) -> Machine:
    return Machine(PERFORMANCE, GROSS, throttle, density)


@pytest.mark.parametrize("altitude_ft", range(0, 15001, 1000))
def test_the_standard_atmosphere_is_the_published_one(altitude_ft: int) -> None:
    # ICAO Doc 7488, as implemented by the PyPI package ambiance (which takes geometric heights).
    geopotential = altitude_ft * FOOT
    radius = 6356766.0  # the Doc's nominal earth radius, m
    outside = ambiance.Atmosphere(radius * geopotential / (radius - geopotential))
    assert standard_temperature(geopotential) == pytest.approx(outside.temperature[0], rel=1e-6)
    assert pressure(geopotential) == pytest.approx(outside.pressure[0], rel=1e-5)
    assert density(geopotential) == pytest.approx(outside.density[0], rel=1e-5)


@given(st.floats(0, 4500), st.floats(-30, 30))
def test_density_altitude_is_where_a_standard_day_is_as_thin(height: float, warmer: float) -> None:
    found = density_altitude(height, warmer)
    assert density(found) == pytest.approx(density(height, warmer), rel=1e-7)


@given(st.floats(20, 100), st.floats(0.7, 1.2))
def test_indicated_and_true_airspeed_are_each_other_s_inverse(speed: float, air: float) -> None:
    assert indicated_airspeed(true_airspeed(speed, air), air) == pytest.approx(speed)


@pytest.mark.parametrize(("kt", "rate_dps", "radius_ft"), [(120, 5.25, 2215), (240, 2.62, 8861)])
def test_rate_and_radius_of_turn_are_the_handbook_s(
    kt: float, rate_dps: float, radius_ft: float
) -> None:
    # FAA-H-8083-25 ch. 5 (from memory): 30 degrees of bank; rate 1,091 tan(bank) / TAS, radius
    # TAS squared / (11.26 tan(bank)); its constants are rounded, by up to 0.3 percent.
    turn = machine().by_path(State(kt * KNOT, 0.0, 0.0, 0.0), 30 * DEGREE, 0.0).turn_rate
    assert turn / DEGREE == pytest.approx(rate_dps, rel=0.003)
    assert kt * KNOT / turn / FOOT == pytest.approx(radius_ft, rel=0.0035)


@pytest.mark.parametrize(("bank", "load"), [(0, 1.0), (45, 1.41), (50, 1.56), (60, 2.0)])
def test_load_factor_in_a_level_turn_is_the_handbook_s(bank: float, load: float) -> None:
    # FAA-H-8083-25 ch. 5: 1 / cos(bank).
    forces = machine().by_path(State(60.0, 0.0, 1000.0, 0.0), bank * DEGREE, 0.0)
    assert forces.load_factor == pytest.approx(load, abs=0.006)


def test_stall_speed_is_the_airplane_s_own_and_rises_with_the_root_of_load() -> None:
    # FAA-H-8083-25 ch. 5: at 60 degrees of bank the stall speed is up by 41 percent.
    assert stall_speed(PERFORMANCE, GROSS) == pytest.approx(AIRPLANE.speeds.stall)
    risen = stall_speed(PERFORMANCE, GROSS, 2.0) / stall_speed(PERFORMANCE, GROSS)
    assert risen == pytest.approx(1.41, abs=0.005)


def test_maneuvering_speed_falls_with_the_root_of_weight() -> None:
    # 105 kt at gross weight is about 100 kt some 9 percent lighter: the law FAA-H-8083-25, the
    # pair of speeds common practice, no source.
    plane = AIRPLANE.model_copy(
        update={"speeds": AIRPLANE.speeds.model_copy(update={"maneuvering": 105 * KNOT})}
    )
    assert maneuvering_speed(plane, 0.91 * GROSS) / KNOT == pytest.approx(100, abs=0.5)


def test_power_falls_with_density_as_published() -> None:
    # Gagg and Ferrar, SAE Journal 1934 (from memory): P/P0 = 1.132 sigma - 0.132.
    assert power_ratio(SEA_LEVEL_DENSITY) == pytest.approx(1.0)
    assert power_ratio(0.5 * SEA_LEVEL_DENSITY) == pytest.approx(0.434)


@given(st.floats(1e3, 3e5), st.floats(5, 120), st.floats(0.6, 1.2), st.floats(1, 5))
def test_thrust_fulfils_momentum_theory(power: float, v: float, air: float, area: float) -> None:
    # Any aerodynamics text: T = 2 rho A w (w - V) with P = T w.
    thrust = disk_thrust(power, v, air, area)
    through = power / thrust
    assert thrust == pytest.approx(2 * air * area * through * (through - v), rel=1e-6)


@pytest.mark.parametrize("name", ["meadow-four", "tests/reference/c182.yaml"])
def test_the_polar_has_its_best_ratio_at_the_handbook_s_glide(name: str) -> None:
    # Any aerodynamics text: where CL / CD is greatest, the polar's tangent goes through the origin.
    plane = load(name)
    performance = derive(plane)
    dynamic = 0.5 * SEA_LEVEL_DENSITY * plane.speeds.best_glide**2
    lift = plane.weights.gross * STANDARD_GRAVITY / (dynamic * performance.wing_area)

    def ratio(lift_coefficient: float) -> float:
        drag = performance.drag_coefficient(lift_coefficient) + performance.windmill_drag
        return lift_coefficient / drag

    assert ratio(lift) == pytest.approx(plane.glide_ratio)
    others = [ratio(lift * share / 100) for share in range(50, 200) if share != 100]
    assert max(others) < ratio(lift)


def test_without_camber_the_polar_is_the_textbook_s() -> None:
    # Any aerodynamics text: at best L/D, CD0 = k CL^2 and the ratio is 1 / (2 sqrt(k CD0)).
    faster = AIRPLANE.cruise.model_copy(update={"speed": 122 * KNOT})
    plane = derive(AIRPLANE.model_copy(update={"cruise": faster}))
    assert plane.least_drag_lift == 0.0
    gliding = plane.least_drag + plane.windmill_drag
    best = 1 / (2 * math.sqrt(plane.induced_drag * gliding))
    assert best == pytest.approx(AIRPLANE.glide_ratio)


def test_the_cruise_row_comes_out_of_the_model_again() -> None:
    cruise = AIRPLANE.cruise
    throttle = PERFORMANCE.propeller.throttle_for_power(
        cruise.power, cruise.speed, density(cruise.altitude)
    )
    forces = machine(throttle).level(cruise.speed, cruise.altitude)
    assert forces.acceleration == pytest.approx(0.0, abs=1e-6)


@given(st.floats(-0.3, 0.3), st.floats(-0.1, 0.25), st.floats(-1.0, 1.0))
def test_pitch_path_and_angle_of_attack_agree(path: float, alpha: float, bank: float) -> None:
    # The vertical part of the velocity in body axes, without sideslip:
    # sin(gamma) = cos(alpha) sin(theta) - sin(alpha) cos(phi) cos(theta).
    pitch = pitch_of(path, alpha, bank)
    vertical = math.cos(alpha) * math.sin(pitch)
    vertical -= math.sin(alpha) * math.cos(bank) * math.cos(pitch)
    assert vertical == pytest.approx(math.sin(path), abs=1e-9)
    found = machine().by_attitude(State(45.0, 0.0, 1000.0, path), bank, pitch).alpha
    assert found == pytest.approx(alpha, abs=1e-7)


def test_a_level_turn_of_360_degrees_takes_the_closed_form_s_time() -> None:
    # Closed form: 2 pi V / (g tan(bank)), the bank about the flight path, with the power that holds
    # the speed.
    speed, bank = 50.0, 45 * DEGREE
    low, high = 0.2, 1.0
    for _ in range(40):
        power = 0.5 * (low + high)
        faster = machine(power).by_path(State(speed, 0, 500, 0), bank, 0.0).acceleration > 0
        low, high = (low, power) if faster else (power, high)
    alpha = machine(low).by_path(State(speed, 0, 500, 0), bank, 0.0).alpha
    level, lean = pitch_of(0.0, alpha, bank), lift_bank(bank, alpha, 0.0)
    whole = 2 * math.pi * speed / (STANDARD_GRAVITY * math.tan(lean))
    turning = Stretch(0, 0.0, whole, Curve.still(bank), Curve.still(level))
    end, _ = fly(machine(low), turning, State(speed, 0.0, 500.0, 0.0), 0.0, 0, 0.1)
    assert end.azimuth == pytest.approx(2 * math.pi, rel=2e-4)
    assert end.altitude == pytest.approx(500.0, abs=1e-3)
    assert end.speed == pytest.approx(speed, abs=0.01)


def test_energy_is_only_spent_on_drag_and_gained_from_thrust() -> None:
    # Mechanics: d/dt (V^2/2 + g h) = (T cos(alpha) - D) V / m.
    bank = Curve.through([Knot(0.0, 0.0, 0.0), Knot(12.0, 0.5)])
    pitch = Curve.through([Knot(0.0, 0.05, 0.0), Knot(12.0, 0.2)])
    climbing = Stretch(0, 0.0, 12.0, bank, pitch)
    engine = machine(0.7)
    end, flown = fly(engine, climbing, State(50.0, 0.0, 500.0, 0.0), 0.0, 0, 0.02)
    spent = []
    for one in flown:
        air = density(one.altitude)
        dynamic = 0.5 * air * one.speed**2
        pull = engine.performance.propeller.output(
            engine.throttle, one.speed, air
        ).thrust * math.cos(one.alpha)
        spent.append((pull - engine.drag(one.lift_coefficient, dynamic)) * one.speed / GROSS)
    times = [one.time for one in flown]
    gained = float(trapezoid(spent, times))
    last = flown[-1]
    energy = (last.speed**2 - 50.0**2) / 2 + STANDARD_GRAVITY * (last.altitude - 500.0)
    assert energy == pytest.approx(gained, rel=2e-3, abs=0.5)
    assert end.altitude > 500.0


def test_lighter_than_gross_is_slower_to_stall() -> None:
    assert stall_speed(PERFORMANCE, GROSS - 300 * POUND) < stall_speed(PERFORMANCE, GROSS)


@pytest.mark.parametrize("groundspeed_kt", range(60, 141, 10))
def test_in_still_air_the_pivotal_altitude_is_groundspeed_squared_over_eleven_point_three(
    groundspeed_kt: int,
) -> None:
    # FAA-H-8083-3C ch. 7; its constant is rounded, by less than 0.3 percent.
    speed = groundspeed_kt * KNOT
    height = guidance.pivotal_altitude(speed, speed) / FOOT
    assert height == pytest.approx(groundspeed_kt**2 / 11.3, rel=0.003)


@pytest.mark.parametrize(("tas_kt", "bank_deg"), [(90, 13.5), (100, 15.0), (120, 18.0)])
def test_the_bank_of_a_standard_rate_turn_is_the_rule_of_thumb_s(
    tas_kt: float, bank_deg: float
) -> None:
    # Common practice, no source: a tenth of the true airspeed and half of that.
    bank = guidance.bank_for_rate(tas_kt * KNOT, 3.0 * DEGREE) / DEGREE
    assert bank == pytest.approx(bank_deg, abs=0.5)


@pytest.mark.parametrize("altitude_ft", [0, 5000, 10000, 15000])
def test_true_airspeed_is_indicated_over_the_root_of_the_density_ratio(altitude_ft: int) -> None:
    # ICAO Doc 7488's densities, as implemented by the PyPI package ambiance.
    geopotential, radius = altitude_ft * FOOT, 6356766.0
    outside = ambiance.Atmosphere(radius * geopotential / (radius - geopotential)).density[0]
    true = true_airspeed(100 * KNOT, density(geopotential)) / KNOT
    assert true == pytest.approx(100 / math.sqrt(outside / 1.225), rel=1e-5)
