"""How the hand moves: curves, rates that change no faster than a hand does, and every maneuver."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.interpolate import CubicSpline

from coach.flight import guidance
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.curve import STEADY_ENDS, Curve, Knot, steady
from coach.flight.day import Day
from coach.flight.handling import Hand
from coach.flight.history import Floats
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import DEGREE, KNOT, STANDARD_GRAVITY
from tests.bench.hand import MOST, ORDINARY, smoothness

widths = st.lists(st.floats(0.5, 20.0), min_size=3, max_size=5)
slopes = st.lists(st.floats(1.0, 1.5), min_size=6, max_size=6)


@given(widths, slopes, st.floats(0.5, 2), st.floats(0.5, 2))
def test_a_curve_is_the_clamped_cubic_spline_where_nothing_turns_back(
    widths: list[float], slopes: list[float], first: float, last: float
) -> None:
    # Against scipy's CubicSpline. It bends least of all curves through the same values.
    times = np.concatenate([[0.0], np.cumsum(widths)])
    values = np.concatenate([[0.0], np.cumsum(np.multiply(widths, slopes[: len(widths)]))])
    knots = [Knot(float(t), float(v)) for t, v in zip(times, values, strict=True)]
    knots[0], knots[-1] = knots[0]._replace(rate=first), knots[-1]._replace(rate=last)
    curve = Curve.through(knots)
    spline = CubicSpline(times, values, bc_type=((1, np.array(first)), (1, np.array(last))))
    for time in np.linspace(0.0, times[-1], 17):
        value, rate = curve.at(float(time))
        assert value == pytest.approx(float(spline(time)), abs=1e-8)
        assert rate == pytest.approx(float(spline(time, 1)), abs=1e-8)
    bends = np.abs(spline(np.concatenate([times[:-1] + 1e-9, times[1:] - 1e-9]), 2)).max()
    assert curve.sharpest == pytest.approx(bends, rel=1e-3)


@given(widths, slopes)
def test_a_free_end_is_the_natural_one(widths: list[float], slopes: list[float]) -> None:
    # Against scipy: the second derivative is 0 there.
    times = np.concatenate([[0.0], np.cumsum(widths)])
    values = np.concatenate([[0.0], np.cumsum(np.multiply(widths, slopes[: len(widths)]))])
    knots = [Knot(float(t), float(v)) for t, v in zip(times, values, strict=True)]
    knots[0] = knots[0]._replace(rate=0.0)
    spline = CubicSpline(times, values, bc_type=((1, np.array(0.0)), (2, np.array(0.0))))
    assert Curve.through(knots, free=True).rates == pytest.approx(spline(times, 1), abs=1e-9)


@given(st.lists(st.floats(-20, 20), min_size=3, max_size=6), st.lists(st.floats(1, 9), min_size=6))
def test_a_curve_turns_back_at_its_knots_and_nowhere_else(
    values: list[float], widths: list[float]
) -> None:
    times = [sum(widths[:n]) for n in range(len(values))]
    curve = Curve.through(
        [Knot(t, v, None if n else 0.0) for n, (t, v) in enumerate(zip(times, values, strict=True))]
    )
    for n, (time, value) in enumerate(zip(times, values, strict=True)):
        assert curve.at(time)[0] == pytest.approx(value, abs=1e-9)
        if 0 < n < len(values) - 1 and (value - values[n - 1]) * (values[n + 1] - value) <= 0.0:
            assert curve.at(time)[1] == pytest.approx(0.0, abs=1e-9)
    for (t, v), (u, w) in pairwise(zip(times, values, strict=True)):
        if t > 0.0 and u < times[-1]:  # between two knots it only goes on from one to the other
            inside = [curve.at(float(one))[0] for one in np.linspace(t, u, 20)]
            assert min(v, w) - 1e-9 <= min(inside) and max(inside) <= max(v, w) + 1e-9


def test_a_steady_change_keeps_one_rate_but_for_a_moment_at_either_end() -> None:
    knots = [Knot(0.0, 30.0, 0.0)]
    steady(knots, 20.0, 0.0)
    curve = Curve.through(knots)
    middle = np.linspace(STEADY_ENDS, 20.0 - STEADY_ENDS, 30)
    rate = -30.0 / (20.0 - STEADY_ENDS)
    assert all(curve.at(float(t))[1] == pytest.approx(rate) for t in middle)
    assert curve.at(0.0) == pytest.approx((30.0, 0.0))
    assert curve.at(20.0) == pytest.approx((0.0, 0.0))


@given(st.floats(-60, 60), st.floats(2, 20), st.floats(1, 20), st.sampled_from([0.1, 0.2, 0.5]))
def test_a_hand_comes_to_where_it_is_wanted_with_no_rate_changed_at_once(
    wanted: float, most: float, change: float, step: float
) -> None:
    hand = Hand(most, change, 0.4)
    value = rate = 0.0
    for _ in range(round(200.0 / step)):
        after = hand.next_rate(wanted - value, rate, step)
        assert abs(after - rate) <= change * step + 1e-9
        assert abs(after) <= most + 1e-9
        value, rate = value + 0.5 * (rate + after) * step, after
    assert value == pytest.approx(wanted, abs=1e-3)
    # It may go beyond by no more than what it moves in a step or so.
    assert rate == pytest.approx(0.0, abs=1e-3)


def rolled(bank: float, hand: Hand, *, out: bool) -> tuple[Floats, Floats]:
    """Times and banks of a roll whose rate is taken up evenly, kept and ended more gently."""
    rate, whole = hand.top(bank), hand.seconds(bank)
    times = np.linspace(0.0, whole, 4001)
    ramps = times / (rate / hand.change), (whole - times) / (rate / hand.brake)
    rates = rate * np.clip(np.minimum(*ramps), 0.0, 1.0)
    gone = np.concatenate([[0.0], np.cumsum(0.5 * (rates[1:] + rates[:-1]) * times[1])])
    assert gone[-1] == pytest.approx(bank, rel=1e-3)
    return times, np.maximum(bank - gone, 0.0) if out else gone


hands = st.builds(Hand, st.floats(0.05, 0.4), st.floats(0.05, 0.5), st.just(0.3))


@given(st.floats(40, 80), st.floats(0.05, 1.0), hands)
def test_the_roll_out_lead_is_the_heading_that_goes_by_in_the_roll_out(
    speed: float, bank: float, hand: Hand
) -> None:
    # The integral of g tan(phi) / V over the roll, by the trapezoidal rule.
    times, banks = rolled(bank, hand, out=True)
    turned = float(trapezoid(STANDARD_GRAVITY * np.tan(banks) / speed, times))
    assert guidance.roll_out_lead(speed, bank, hand) == pytest.approx(turned, rel=0.02)


def test_the_roll_out_lead_is_about_half_the_bank() -> None:
    # Common practice, no source; here at 100 kt and 7 degrees of roll a second.
    hand = Hand(7 * DEGREE, 10 * DEGREE, 0.3)
    lead = guidance.roll_out_lead(100 * KNOT, 30 * DEGREE, hand) / DEGREE
    assert lead == pytest.approx(15.0, abs=1.0)


@given(st.floats(40, 250), st.floats(5, 55), hands)
def test_a_roll_in_ends_where_a_sudden_turn_begun_later_would_be(
    knots: float, degrees: float, hand: Hand
) -> None:
    # Against the roll integrated step by step.
    speed, bank = knots * KNOT, degrees * DEGREE
    times, banks = rolled(bank, hand, out=False)
    turned = float(trapezoid(STANDARD_GRAVITY * np.tan(banks) / speed, times))
    straight = speed * (times[-1] - turned / guidance.turn_rate(speed, bank))
    assert guidance.roll_in_way(speed, bank, hand) == pytest.approx(straight, rel=0.02, abs=1.0)


@pytest.mark.parametrize("bank", [5, 15, 30, 45, 60])
@pytest.mark.parametrize("step", [0.2, 0.5])
def test_a_turn_comes_out_level_on_its_heading(bank: int, step: float) -> None:
    hand, speed, wanted = Hand(12 * DEGREE, 10 * DEGREE, 0.3), 50.0, bank * DEGREE
    heading, phi, roll, goal = 0.0, 0.0, 0.0, math.pi
    for _ in range(round(240.0 / step)):
        on = hand.next_rate(wanted - phi, roll, step)
        after = guidance.roll_out(goal - heading, speed, phi, roll, on, hand, step)
        assert abs(after - roll) <= hand.change * step + 1e-9
        middle = phi + (0.375 * roll + 0.125 * after) * step
        heading += guidance.turn_rate(speed, middle) * step
        phi, roll = phi + 0.5 * (roll + after) * step, after
        if goal - heading < 0.3 and phi < 0.3 * DEGREE:
            break
    assert heading / DEGREE == pytest.approx(180.0, abs=0.5 + 1.5 * step)


GENTLE = ("lazy-eight", "chandelle")
"""Flown gently by both: at most 2 deg/s2 of pitch, the lazy eight so of roll (common practice, no
source)."""


@pytest.mark.parametrize("direction", ["right", "left"])
@pytest.mark.parametrize(
    "name", [*GENTLE, "engine-failure", "power-off-180", "go-around", "steep-turn-50"]
)
def test_no_maneuver_moves_bank_or_nose_more_sharply_than_its_hand(
    name: str, direction: str
) -> None:
    # The figures and why: tests/bench/hand.py, which prints them for every maneuver.
    script, plane = maneuver(name), load("meadow-four")
    found = smoothness(plan(script, plane, conditions(Day(direction=direction), script, plane)))
    pitch, roll = MOST.get(name, ORDINARY)
    assert found.pitch <= pitch
    assert found.roll <= roll
    # As fast as a hand moves the nose in ordinary flight, and no jump.
    assert found.nose < 0.5
    assert -found.unload > 0.7


@pytest.mark.parametrize("name", ["power-on-stall", "power-off-stall", "unusual-attitude-nose-low"])
def test_a_recovery_is_quick_and_not_a_jerk(name: str) -> None:
    script, plane = maneuver(name), load("meadow-four")
    found = smoothness(plan(script, plane, conditions(Day(), script, plane)))
    assert found.pitch <= MOST[name][0]
    assert -found.unload > 0.55
    assert found.load < 2.0


def test_a_lazy_eight_rolls_on_through_level_into_a_loop_to_the_other_side() -> None:
    script, plane = maneuver("lazy-eight"), load("meadow-four")
    flight = plan(script, plane, conditions(Day(), script, plane))
    ends = [one.end_s for one in flight.spans if one.leg == script.legs[-1].name]
    for loop, when in enumerate(ends):
        before, after = flight.at([when - 0.4, when - 0.2, when + 0.2, when + 0.4])["bank_deg"][
            [[0, 1], [2, 3]]
        ]
        rates = np.array([before[1] - before[0], after[1] - after[0]]) / 0.2
        if loop in (0, 2):  # on into one to the other side
            assert np.abs(rates).min() > 0.5
            assert rates[0] == pytest.approx(rates[1], abs=0.5)
        else:
            assert np.abs(rates).max() < 0.5
