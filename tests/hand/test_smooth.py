"""A motion less its noise: where a hand was seen, and what it held there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from coach.hand.measured import held, seen
from coach.hand.motion import Motion
from coach.hand.smooth import KERNEL_S, RATE_HZ
from tests.hand.simulated import Simulated


def steady(rate_hz: float, to_s: float = 20.0, seed: int = 0) -> Motion:
    """A hand that holds 5 degrees of pitch and 20 of bank, and trembles."""
    times = np.arange(0.0, to_s, 1.0 / rate_hz)
    random = np.random.default_rng(seed)
    pitch, bank = random.normal([[5.0], [20.0]], 0.5, (2, len(times)))
    return Motion(tuple(times.tolist()), tuple(pitch.tolist()), tuple(bank.tolist()))


def without(motion: Motion, from_s: float, to_s: float) -> Motion:
    rows = zip(motion.time_s, motion.pitch_deg, motion.bank_deg, strict=True)
    kept = [row for row in rows if not from_s < row[0] < to_s]
    time_s, pitch_deg, bank_deg = zip(*kept, strict=True)
    return Motion(time_s, pitch_deg, bank_deg)


@settings(max_examples=30)
@given(st.integers(0, 1000), st.floats(2.0, 17.0))
def test_what_is_held_is_the_weighted_line_through_the_readings_around(
    seed: int, at_s: float
) -> None:
    # Against numpy's polyfit, whose weights multiply what is left and not its square.
    motion = steady(50.0, seed=seed)
    at_s = round(at_s * RATE_HZ) / RATE_HZ
    away = np.array(motion.time_s) - at_s
    weights = np.exp(-0.25 * (away / KERNEL_S) ** 2)
    found = held(motion, at_s)
    assert found is not None
    for did, readings in ((found.pitch_deg, motion.pitch_deg), (found.bank_deg, motion.bank_deg)):
        line = np.polyfit(away, readings, 1, w=weights)
        assert did == pytest.approx(float(line[1]), abs=0.03)


def test_nothing_is_seen_of_no_readings_or_of_one() -> None:
    assert seen(Motion()) == ()
    assert held(Motion(), 0.0) is None
    assert seen(Motion((1.0,), (0.0,), (0.0,))) == ()


@pytest.mark.parametrize(("rate_hz", "is_seen"), [(5.0, False), (7.0, False), (10.0, True)])
def test_a_hand_is_seen_from_8_readings_a_second_on(rate_hz: float, is_seen: bool) -> None:
    assert bool(seen(steady(rate_hz))) == is_seen


def test_a_gap_is_not_seen_and_a_short_one_is() -> None:
    motion = steady(50.0)
    (first, second) = seen(without(motion, 8.0, 8.5))
    assert (first[1], second[0]) == pytest.approx((8.0, 8.5), abs=0.03)
    assert len(seen(without(motion, 8.0, 8.25))) == 1
    gone = without(motion, 8.0, 12.0)
    assert held(gone, 10.0) is None
    assert held(gone, 7.0) is not None and held(gone, 8.1) is not None


def test_a_frozen_sensor_is_not_seen() -> None:
    motion = steady(50.0)
    frozen = tuple(
        one if not 5.0 <= at < 9.0 else 1.0
        for at, one in zip(motion.time_s, motion.pitch_deg, strict=True)
    )
    # One angle that stands while the other moves is no frozen sensor.
    assert len(seen(Motion(motion.time_s, frozen, motion.bank_deg))) == 1
    first, second = seen(Motion(motion.time_s, frozen, frozen))
    assert (first[1], second[0]) == pytest.approx((5.0, 9.0), abs=0.03)
    table = (2.0,) * len(motion)
    assert seen(Motion(motion.time_s, table, table)) == ()


def test_a_phone_that_lies_on_a_table_is_not_seen_whatever_its_noise() -> None:
    motion = steady(50.0)
    noise = np.random.default_rng(1).normal(0.0, 0.03, (2, len(motion)))
    pitch_deg, bank_deg = (
        tuple(
            one if at < 10.0 else 1.0 + off
            for at, one, off in zip(motion.time_s, angles, offs, strict=True)
        )
        for angles, offs in zip((motion.pitch_deg, motion.bank_deg), noise.tolist(), strict=True)
    )
    ((from_s, to_s),) = seen(Motion(motion.time_s, pitch_deg, bank_deg))
    assert (from_s, to_s) == pytest.approx((0.0, 10.0), abs=0.1)


def test_readings_before_a_gap_say_nothing_of_what_is_after_it() -> None:
    early = steady(50.0, 10.0)
    late = Motion(
        tuple(at + 12.0 for at in early.time_s),
        tuple(one + 40.0 for one in early.pitch_deg),
        tuple(one - 40.0 for one in early.bank_deg),
    )
    both = early.joined(late)
    for at_s, pitch, bank in ((9.9, 5.0, 20.0), (12.1, 45.0, -20.0)):
        found = held(both, at_s)
        assert found is not None
        assert (found.pitch_deg, found.bank_deg) == pytest.approx((pitch, bank), abs=0.5)


def test_a_plan_is_known_between_its_rows(lazy_plan: Motion) -> None:
    # Against scipy's Hermite spline through the same rows and slopes, before it is smoothed: where
    # the curve hardly bends, smoothing changes nothing.
    time, bank = np.array(lazy_plan.time_s), np.array(lazy_plan.bank_deg)
    spline = CubicHermiteSpline(time, bank, np.gradient(bank, time))
    smooth = lazy_plan.smooth_plan
    inside = smooth.time_s[20:-20]
    expected = spline(inside) + 0.5 * KERNEL_S**2 * spline(inside, 2)
    assert np.abs(smooth.angles_deg[1, 20:-20] - expected).max() < 0.15
    assert np.abs(smooth.rates_dps[1, 20:-20] - spline(inside, 1)).max() < 0.4


@settings(max_examples=30)
@given(st.integers(0, 300), st.integers(40, 700))
def test_a_plan_is_known_to_its_very_ends(begin: int, lasts: int) -> None:
    # Whether they lie on an instant or between two.
    times = np.linspace(begin / 30.0, (begin + lasts) / 30.0, 12)
    plan = Motion(tuple(times.tolist()), tuple((2.0 * times).tolist()), (7.0,) * 12)
    smooth = plan.smooth_plan
    assert not np.isnan(smooth.angles_deg).any()
    assert abs(smooth.time_s[0] - times[0]) <= 1.0 / RATE_HZ
    assert abs(smooth.time_s[-1] - times[-1]) <= 1.0 / RATE_HZ
    assert smooth.angles_deg[1] == pytest.approx(7.0)


def test_a_motion_in_very_many_pieces_is_measured_as_well() -> None:
    rows = [
        (100.0 * piece + step / 20.0, 1.0, step % 3.0) for piece in range(50) for step in range(20)
    ]
    time_s, pitch_deg, bank_deg = zip(*rows, strict=True)
    pieces = seen(Motion(time_s, pitch_deg, bank_deg))
    assert pieces == tuple((100.0 * piece, 100.0 * piece + 0.95) for piece in range(50))
    assert held(Motion(time_s, pitch_deg, bank_deg), 3000.5) is not None
    assert held(Motion(time_s, pitch_deg, bank_deg), 3002.0) is None


def test_of_a_hand_at_20_or_at_60_readings_a_second_as_much_is_held(lazy_plan: Motion) -> None:
    for rate_hz in (20.0, 60.0):
        hand = Simulated(lazy_plan, 5, rate_hz=rate_hz, drift_deg_per_min=0.0, delay_s=0.0)
        smooth = hand.motion().smooth
        off = smooth.angles_deg - np.array(hand.meant(smooth.time_s))
        assert np.nanstd(off) < 0.65


def test_a_phone_upside_down_is_not_held_level() -> None:
    motion = steady(50.0)
    bank = (np.array(motion.bank_deg) + 160.0 + 180.0) % 360.0 - 180.0  # a trembling 180
    over = Motion(motion.time_s, motion.pitch_deg, tuple(bank.tolist()))
    for at_s in np.arange(1.0, 19.0, 0.37):
        found = held(over, float(at_s))
        assert found is not None and abs(found.bank_deg) > 178.0
