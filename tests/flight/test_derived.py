"""What is derived from a handbook's numbers, against closed forms, the handbook, and JSBSim."""

import math
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.flight.airplane import Airplane, load
from coach.flight.atmosphere import SEA_LEVEL_DENSITY, density, true_airspeed
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.derived import best_climb, best_glide, climb_rate, level_speed, sink
from coach.flight.fit import derive
from coach.flight.plan import plan
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.problems import Problem
from coach.script.catalog import maneuver, names
from coach.script.quantities import FOOT, HORSEPOWER, KNOT, POUND, STANDARD_GRAVITY

AIRPLANES = names("airplanes")
MEASURED = "tests/reference/c182.yaml"
FIXED = "tests/reference/c172p.yaml"
FPM = FOOT / 60.0

everyone = pytest.mark.parametrize("name", [*AIRPLANES, MEASURED, FIXED])


@everyone
def test_best_glide_at_gross_weight_is_the_handbook_s_again(name: str) -> None:
    plane = load(name)
    glide = best_glide(derive(plane), plane.weights.gross)
    assert glide.ratio == pytest.approx(plane.glide_ratio)
    # On a path, lift is the weight times its cosine: a quarter of a percent of speed at 10 to 1.
    assert glide.speed == pytest.approx(plane.speeds.best_glide, rel=0.005)


@given(st.floats(0.7, 1.0))
def test_the_best_ratio_is_the_same_at_every_weight_and_its_speed_goes_with_the_root(
    share: float,
) -> None:
    # Any aerodynamics text: the best ratio belongs to one angle of attack.
    plane = load("hillside-four")
    gross, light = (best_glide(derive(plane), plane.weights.gross * part) for part in (1.0, share))
    assert light.ratio == pytest.approx(gross.ratio)
    assert light.speed == pytest.approx(gross.speed * math.sqrt(share))


@everyone
def test_no_other_speed_glides_flatter(name: str) -> None:
    plane = load(name)
    performance, weight = derive(plane), plane.weights.gross * STANDARD_GRAVITY
    best = best_glide(performance, plane.weights.gross)
    for share in (0.85, 0.95, 1.05, 1.15):
        dynamic = 0.5 * SEA_LEVEL_DENSITY * (best.speed * share) ** 2
        lift = weight / (dynamic * performance.wing_area)
        assert lift / (performance.drag_coefficient(lift) + performance.windmill_drag) < best.ratio


@pytest.mark.parametrize("altitude_ft", [0, 6000])
def test_sink_is_true_airspeed_over_the_glide_ratio(altitude_ft: float) -> None:
    # Geometry: a ratio of r to 1 is a path whose tangent is 1 / r.
    plane = load("meadow-four")
    performance, mass = derive(plane), plane.weights.gross
    glide = best_glide(performance, mass)
    speed = true_airspeed(glide.speed, density(altitude_ft * FOOT))
    down = sink(performance, mass, altitude_ft * FOOT)
    assert math.sqrt(speed**2 - down**2) / down == pytest.approx(glide.ratio)


@everyone
def test_the_handbook_s_cruise_row_comes_out_again(name: str) -> None:
    plane = load(name)
    cruise = plane.cruise
    speed = level_speed(derive(plane), plane.weights.gross, cruise.power, cruise.altitude)
    assert speed is not None
    assert speed / KNOT == pytest.approx(cruise.speed / KNOT, abs=0.1)


@pytest.mark.parametrize(("power", "measured_kt"), [(0.55, 112.4), (0.65, 122.2)])
def test_the_cruise_rows_that_were_not_given_are_jsbsim_s(power: float, measured_kt: float) -> None:
    # JSBSim's model c182 at 2950 lb and 6000 ft; its file says how each number was flown.
    plane = load(MEASURED)
    speed = level_speed(derive(plane), plane.weights.gross, power, 6000 * FOOT)
    assert speed is not None
    assert speed / KNOT == pytest.approx(measured_kt, abs=1.0)


@everyone
def test_in_level_flight_the_power_goes_into_drag(name: str) -> None:
    # Momentum theory and level flight: thrust equals drag; nothing of it is taken from the planner.
    plane = load(name)
    performance, weight = derive(plane), plane.weights.gross * STANDARD_GRAVITY
    for altitude, power in ((0.0, 0.65), (0.0, 0.75), (6000 * FOOT, 0.65)):
        speed = level_speed(performance, plane.weights.gross, power, altitude)
        assert speed is not None
        air = density(altitude)
        dynamic = 0.5 * air * speed**2
        lift = weight / (dynamic * performance.wing_area)
        drag = performance.drag_coefficient(lift) * dynamic * performance.wing_area
        propeller = performance.propeller
        throttle = propeller.throttle_for_thrust(drag, speed, air)
        assert propeller.output(throttle, speed, air).power == pytest.approx(power, rel=0.01)


@everyone
def test_the_handbook_s_climb_row_comes_out_again(name: str) -> None:
    plane = load(name)
    assert plane.climb is not None
    climb, air = plane.climb, density(plane.climb.altitude)
    speed = true_airspeed(climb.speed, air)
    rate = climb_rate(derive(plane), plane.weights.gross, None, climb.altitude, speed)
    # Where the cruise row takes more than the climb row has, that much is there.
    assert rate / FPM == pytest.approx(climb.rate / FPM, rel=0.025)


def test_a_power_that_the_engine_has_not_got_holds_no_speed() -> None:
    plane = load("meadow-four")
    performance, gross = derive(plane), plane.weights.gross
    assert level_speed(performance, gross, 0.9, 6000 * FOOT) is None
    assert level_speed(performance, gross, 0.15, 0.0) is None
    assert level_speed(performance, gross, None, 6000 * FOOT) is not None


@everyone
def test_the_best_climb_is_the_excess_power_over_the_weight(name: str) -> None:
    # Any aerodynamics text: rate of climb = (T - D) V / W, here with level flight's drag.
    plane = load(name)
    performance, mass = derive(plane), plane.weights.gross
    weight = mass * STANDARD_GRAVITY
    climb = best_climb(performance, mass, 0.0)

    def rate(speed: float) -> float:
        dynamic = 0.5 * SEA_LEVEL_DENSITY * speed**2
        lift = weight / (dynamic * performance.wing_area)
        drag = performance.drag_coefficient(lift) * dynamic * performance.wing_area
        thrust = performance.propeller.output(1.0, speed, SEA_LEVEL_DENSITY).thrust
        return (thrust - drag) * speed / weight

    assert climb.rate == pytest.approx(rate(climb.speed), rel=0.03)
    speeds = np.arange(stall_speed(performance, mass), 2.5 * climb.speed, 0.5)
    assert climb.rate == pytest.approx(max(map(rate, speeds)), rel=0.03)
    assert stall_speed(performance, mass) < climb.speed < plane.cruise.speed


@pytest.mark.parametrize("name", AIRPLANES)
def test_a_climb_weakens_with_altitude_and_weight(name: str) -> None:
    plane = load(name)
    performance, gross = derive(plane), plane.weights.gross
    low = best_climb(performance, gross, 0.0).rate
    assert 500 * FPM < low < 1600 * FPM
    assert best_climb(performance, gross, 6000 * FOOT).rate < low
    assert best_climb(performance, 0.85 * gross, 0.0).rate > low


@pytest.mark.parametrize("name", AIRPLANES)
def test_maneuvering_speed_is_the_stall_times_the_root_of_the_limit_load(name: str) -> None:
    # Normal category, 3.8 g: 14 CFR 23, the amendments before 2017, from memory.
    plane = load(name)
    root = math.sqrt(3.8)
    assert plane.speeds.maneuvering == pytest.approx(plane.speeds.stall * root, rel=0.012)
    light = 0.85 * plane.weights.gross
    assert maneuvering_speed(plane, light) == pytest.approx(
        stall_speed(derive(plane), light) * root, rel=0.012
    )


@pytest.mark.parametrize("loading", [1.0, 0.4], ids=["gross", "light"])
@pytest.mark.parametrize("altitude", ["0 ft", "6000 ft"])
@pytest.mark.parametrize("name", AIRPLANES)
def test_every_airplane_flies_the_lazy_eight(name: str, altitude: str, loading: float) -> None:
    script, plane = maneuver("lazy-eight"), load(name)
    weights = plane.weights
    mass = weights.empty + loading * (weights.gross - weights.empty)
    day = Day(weight=f"{mass / POUND - 0.01:.2f}", altitude=altitude, ground="-1400", loops=1)
    flight = plan(script, plane, conditions(day, script, plane))
    assert flight.shortfalls == ()
    assert [moment.name for moment in flight.moments] == ["45", "90", "135", "180"]


def changed(plane: Airplane, cruise_kt: float) -> Airplane:
    cruise = plane.cruise.model_copy(update={"speed": cruise_kt * KNOT})
    return plane.model_copy(update={"cruise": cruise})


def test_a_cruise_slower_than_the_glide_suggests_bends_the_polar_before_it_blames_the_propeller() -> (
    None
):
    plane = load(MEASURED)
    slower = [derive(changed(plane, kt)) for kt in (140, 134, 131, 128, 122)]
    camber = [one.least_drag_lift for one in slower]
    assert camber == sorted(camber)
    assert slower[0].windmill_drag > 0.0 == camber[0]
    pull = []
    for one in slower:
        throttle = one.propeller.throttle_for_power(0.6, 60.0, 1.0)
        pull.append(one.propeller.output(throttle, 60.0, 1.0).thrust)
    assert pull[2] == pytest.approx(pull[1])
    assert pull[-1] < 0.97 * pull[2]
    for one in slower:
        assert best_glide(one, plane.weights.gross).ratio == pytest.approx(plane.glide_ratio)


@pytest.mark.parametrize(("kt", "word"), [(190, "fast"), (95, "slow")])
def test_a_cruise_that_contradicts_the_glide_is_a_sentence(kt: float, word: str) -> None:
    with pytest.raises(Problem, match=f"too {word}"):
        derive(changed(load(MEASURED), kt))


@pytest.mark.skipif(sys.platform != "linux", reason="JSBSim is installed on Linux only")
@pytest.mark.parametrize("power_hp", [0.0, 126.5], ids=["idle", "55 percent"])
def test_the_polar_and_the_thrust_are_jsbsim_s(power_hp: float) -> None:
    # JSBSim (PyPI package jsbsim), model c182, slowed with the nose rising and the wings level; its
    # airplane file holds handbook numbers that were measured on it. With power on the model has up
    # to 5 percent less drag near the stall than in a glide: the tail carries another load.
    from tests.reference.jsbsim_flight import fly

    plane = load(MEASURED)
    performance = derive(plane)
    times = np.arange(0.0, 80.0, 0.5)
    nose = np.interp(times, [0, 10, 90], [0, -7, 7]) if power_hp == 0.0 else 12 * times / 90
    flown = fly(
        "c182", times, nose, 0.0 * times,
        entry_ias_kt=112.0, altitude_ft=5000.0, weight_lb=2700.0, power_hp=power_hp,
    )  # fmt: skip
    settled = flown.t_s > 10.0
    scale = flown.dynamic_psf * performance.wing_area / FOOT**2
    lift = (np.abs(flown.lift_lbf) / scale)[settled]
    drag = (np.abs(flown.drag_lbf) / scale)[settled]
    assert lift.min() < 0.41
    assert lift.max() > 0.95
    off = np.array([performance.drag_coefficient(one) for one in lift]) / drag - 1.0
    assert np.abs(off).max() < (0.015 if power_hp == 0.0 else 0.055)
    if power_hp:
        pull = []
        for hp, kt, ft in zip(flown.power_hp, flown.tas_kt, flown.altitude_ft, strict=True):
            share, at = hp * HORSEPOWER / plane.engine.rated_power, (kt * KNOT, density(ft * FOOT))
            throttle = performance.propeller.throttle_for_power(share, *at)
            pull.append(performance.propeller.output(throttle, *at).thrust)
        thrust = flown.thrust_lbf * POUND * STANDARD_GRAVITY
        assert np.abs(pull / thrust - 1.0)[settled].max() < 0.03
