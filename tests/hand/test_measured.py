"""What was put into a synthetic hand is found again, exactly, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import correlate, correlation_lags

from coach.flight.flight import Flight
from coach.hand.drift import drift, without_drift
from coach.hand.measured import AXES, held, shift
from coach.hand.motion import Motion
from coach.hand.peaks import peaks
from coach.hand.reversals import reversals
from coach.hand.smooth import RATE_HZ
from coach.hand.tempo import STEADY, Tempo, tempo
from coach.hand.whole import lag_s, whole
from tests.bench.hands import flight_of
from tests.hand import simulated
from tests.hand.simulated import Simulated, Spoiled, planned

DELAY_S = 0.06


def flown(plan: Motion, seed: int, *errors: Spoiled, **how: object) -> Motion:
    hand = Simulated(plan, seed, errors, rate_hz=(20.0, 30.0, 50.0, 60.0)[seed % 4], **how)  # type: ignore[arg-type]
    return without_drift(hand.motion(), plan)


@pytest.mark.parametrize("name", ["lazy-eight", "chandelle", "steep-turn-45"])
@pytest.mark.parametrize("seed", range(2))
def test_of_a_perfect_hand_nothing_is_told(name: str, seed: int) -> None:
    flight = flight_of(name)
    plan = planned(flight)
    motion = flown(plan, seed)
    assert tempo(motion, plan) == STEADY
    assert reversals(motion, plan) == ()
    for from_s, to_s in flight.loops:
        found = whole(motion, plan, from_s, to_s)
        assert found is not None and not found.still
        assert max(found.rms_pitch_deg, found.rms_bank_deg) < 1.0
        assert found.lag_s is None or found.lag_s == pytest.approx(DELAY_S, abs=0.25)
        for peak in peaks(motion, plan, from_s, to_s):
            assert abs(peak.more_deg) < 2.0
            assert peak.late_s is None or abs(peak.late_s) < 0.4
    for moment in flight.moments:
        there = held(motion, moment.time_s)
        assert there is not None
        assert there.pitch_deg == pytest.approx(moment.pitch_deg, abs=2.5)
        assert there.bank_deg == pytest.approx(moment.bank_deg, abs=2.5)
        for of in AXES:
            late_s = shift(motion, plan, moment.time_s, (of,))
            assert late_s is None or late_s == pytest.approx(DELAY_S, abs=0.45)


@pytest.mark.parametrize("by_deg", [11.0, -11.0])
def test_too_much_bank_at_90_is_found_there_and_nowhere_else(
    lazy: Flight, lazy_plan: Motion, by_deg: float
) -> None:
    moment = next(one for one in lazy.moments if one.loop == 3 and one.name == "90")
    for seed in range(4):
        motion = flown(lazy_plan, seed, simulated.more_bank(moment.time_s, by_deg))
        there = held(motion, moment.time_s)
        assert there is not None
        # The third loop is to the left.
        assert there.bank_deg == pytest.approx(moment.bank_deg - by_deg, abs=2.0)
        assert there.pitch_deg == pytest.approx(moment.pitch_deg, abs=2.0)
        for loop, place in enumerate(lazy.loops, 1):
            for peak in peaks(motion, lazy_plan, *place):
                if peak.of == "bank" and (loop != 3 or by_deg > 0.0):
                    assert peak.more_deg == pytest.approx(by_deg if loop == 3 else 0.0, abs=2.5)


@pytest.mark.parametrize("late_s", [1.4, -0.8])
def test_a_late_nose_is_found_and_the_wings_stay_in_time(
    lazy: Flight, lazy_plan: Motion, late_s: float
) -> None:
    for seed in range(2):
        motion = flown(lazy_plan, seed, simulated.late_nose(late_s), delay_s=0.0)
        found = whole(motion, lazy_plan, 0.0, lazy.length_s)
        assert found is not None
        assert found.pitch_lag_s == pytest.approx(late_s, abs=0.15)
        assert found.bank_lag_s == pytest.approx(0.0, abs=0.15)
        noses = [
            peak.late_s
            for place in lazy.loops
            for peak in peaks(motion, lazy_plan, *place)
            if peak.what == "greatest pitch" and peak.late_s is not None
        ]
        assert np.mean(noses) == pytest.approx(late_s, abs=0.15)


def test_a_hand_late_in_one_loop_is_late_there_alone(lazy: Flight, lazy_plan: Motion) -> None:
    from_s, to_s = lazy.loops[1]
    motion = flown(lazy_plan, 2, simulated.late(1.2, from_s, to_s), delay_s=0.0)
    lags = [found.lag_s for place in lazy.loops if (found := whole(motion, lazy_plan, *place))]
    assert lags == pytest.approx([0.0, 1.2, 0.0, 0.0], abs=0.25)
    at_90 = [one.time_s for one in lazy.moments if one.name == "90"]
    shifts = [shift(motion, lazy_plan, at_s) for at_s in at_90]
    assert shifts == pytest.approx([0.0, 1.2, 0.0, 0.0], abs=0.35)


def test_a_hand_held_high_all_the_while_is_not_late(lazy: Flight, lazy_plan: Motion) -> None:
    high = Motion(
        lazy_plan.time_s,
        tuple(one + 3.0 for one in lazy_plan.pitch_deg),
        tuple(one - 3.0 for one in lazy_plan.bank_deg),
    )
    motion = Simulated(high, 1, delay_s=0.0, drift_deg_per_min=0.0).motion()
    for moment in lazy.moments:
        late_s = shift(motion, lazy_plan, moment.time_s)
        assert late_s is None or abs(late_s) < 0.45


def test_a_lag_is_where_scipys_cross_correlation_is_greatest() -> None:
    random = np.random.default_rng(1)
    for steps in (-17, 0, 23):
        course = np.convolve(random.normal(size=430), np.hanning(31), "valid")
        hand = np.roll(course, steps) + random.normal(size=400)
        found = lag_s(hand[None, 50:-50], course[None, 100:-100])
        both = correlate(hand - hand.mean(), course - course.mean())
        expected = correlation_lags(400, 400)[int(np.argmax(both))] / RATE_HZ
        assert expected == pytest.approx(steps / RATE_HZ, abs=0.2)
        assert found == pytest.approx(expected, abs=0.2)


def test_the_correlation_is_pearsons_at_every_shift() -> None:
    # Against numpy's corrcoef: where it is greatest, with the hand's mean and size changing.
    random = np.random.default_rng(2)
    for steps in (-17, -3, 0, 23):
        course = np.cumsum(np.cumsum(random.normal(size=400)))
        hand = 3.0 * np.roll(course, steps) + 1000.0
        found = lag_s(hand[None, 50:-50], course[None, 100:-100])
        by_numpy = [
            np.corrcoef(hand[50 + first : 250 + first], course[100:-100])[0, 1]
            for first in range(101)
        ]
        assert int(np.argmax(by_numpy)) - 50 == steps
        assert found == pytest.approx(steps / RATE_HZ, abs=0.05)


def test_how_far_off_a_loop_is_is_the_root_mean_square(lazy: Flight, lazy_plan: Motion) -> None:
    off = Motion(
        lazy_plan.time_s,
        tuple(one + 4.0 for one in lazy_plan.pitch_deg),
        tuple(one - 3.0 for one in lazy_plan.bank_deg),
    )
    motion = Simulated(off, 3, noise_deg=0.1, delay_s=0.0, drift_deg_per_min=0.0).motion()
    found = whole(motion, lazy_plan, *lazy.loops[0])
    assert found is not None
    assert (found.rms_pitch_deg, found.rms_bank_deg) == pytest.approx((4.0, 3.0), abs=0.1)
    # A constant that is added makes no movement less smooth.
    assert found.smoothness == pytest.approx(found.planned_smoothness, abs=0.3)


def test_a_jerky_hand_is_less_smooth(lazy: Flight, lazy_plan: Motion) -> None:
    swing = simulated.wobbling(3.0, 0.35)
    found = {
        errors: [
            one.smoothness
            for seed in range(2)
            if (one := whole(flown(lazy_plan, seed, *errors), lazy_plan, *lazy.loops[0]))
            and one.smoothness is not None
        ]
        for errors in ((), (swing,))
    }
    assert len(found[()]) == len(found[swing,]) == 2
    planned_one = whole(flown(lazy_plan, 0), lazy_plan, *lazy.loops[0])
    assert planned_one is not None
    assert max(found[swing,]) < min(found[()]) - 0.2 < planned_one.planned_smoothness - 0.2


@pytest.mark.parametrize("name", ["lazy-eight", "chandelle"])
def test_bank_to_the_wrong_side_is_one_reversal_where_it_was(name: str) -> None:
    flight = flight_of(name)
    plan = planned(flight)
    from_s, to_s = flight.loops[-1]
    for seed in range(2):
        motion = flown(plan, seed, simulated.reversed_bank(from_s, to_s))
        (found,) = reversals(motion, plan)
        assert found.of == "bank"
        assert from_s <= found.from_s < found.to_s <= to_s
        assert found.flown_deg == pytest.approx(-found.planned_deg, abs=2.0)
        assert found.to_s - found.from_s > 0.4 * (to_s - from_s)


def test_a_hand_that_is_late_or_runs_away_is_not_reversed(lazy_plan: Motion) -> None:
    for error in (simulated.late(1.9), simulated.tempo(0.93), simulated.rigid()):
        motion = flown(lazy_plan, 1, error)
        assert reversals(motion, tempo(motion, lazy_plan).followed(lazy_plan)) == ()


def test_a_rigid_hand_stands_still_and_does_nothing_late(lazy: Flight, lazy_plan: Motion) -> None:
    motion = flown(lazy_plan, 4, simulated.rigid(0.1))
    assert tempo(motion, lazy_plan) == STEADY
    for place in lazy.loops:
        found = whole(motion, lazy_plan, *place)
        assert found is not None and found.still
        assert all(peak.late_s is None for peak in peaks(motion, lazy_plan, *place))
    assert all(shift(motion, lazy_plan, moment.time_s) is None for moment in lazy.moments)


@pytest.mark.parametrize("slope", [0.9, 0.96, 1.05, 1.12])
def test_an_own_tempo_is_found_and_what_was_done_by_it_too(
    lazy: Flight, lazy_plan: Motion, slope: float
) -> None:
    motion = flown(lazy_plan, 1, simulated.tempo(slope))
    own = tempo(motion, lazy_plan)
    assert own.slope == pytest.approx(slope, abs=0.01)
    ninety = next(one for one in lazy.moments if one.loop == 4 and one.name == "90")
    if ninety.time_s * slope < lazy.length_s - 5.0:
        around_s = own.late_s(ninety.time_s)
        late_s = shift(motion, lazy_plan, ninety.time_s, around_s=around_s)
        assert late_s == pytest.approx(ninety.time_s * (slope - 1.0), abs=0.5)
    assert reversals(motion, own.followed(lazy_plan)) == ()


def test_a_plan_followed_at_an_own_tempo_is_later_by_what_the_tempo_makes() -> None:
    plan = Motion((0.0, 100.0), (0.0, 1.0), (0.0, 2.0))
    assert Tempo(1.1, 0.5).followed(plan).time_s == pytest.approx((0.5, 110.5))
    assert Tempo(1.1, 0.5).late_s(100.0) == pytest.approx(10.5)
    assert STEADY.followed(plan) is plan


@pytest.mark.parametrize("error", [None, simulated.late_nose(1.4), simulated.late(1.0)])
def test_the_drift_of_a_hold_is_taken_off_whatever_else_is_wrong(
    lazy_plan: Motion, error: Spoiled | None
) -> None:
    for seed in range(3):
        hand = Simulated(lazy_plan, seed, (error,) if error else (), drift_deg_per_min=0.5)
        sides = np.sign(drift(hand.motion(), lazy_plan))
        assert drift(hand.motion(), lazy_plan) == pytest.approx(tuple(0.5 * sides), abs=0.2)
        left = drift(without_drift(hand.motion(), lazy_plan), lazy_plan)
        assert left == pytest.approx((0.0, 0.0), abs=0.05)


def test_what_is_no_drift_is_not_taken_off(lazy_plan: Motion) -> None:
    for error in (simulated.rigid(), simulated.tempo(0.9)):
        motion = Simulated(lazy_plan, 1, (error,)).motion()
        assert without_drift(motion, lazy_plan) is motion
    short = Motion((0.0, 50.0), (0.0, 0.0), (0.0, 0.0))
    motion = Simulated(short, 1, drift_deg_per_min=3.0).motion()
    assert without_drift(motion, short) is motion


def test_where_the_hand_was_not_seen_nothing_is_told(lazy: Flight, lazy_plan: Motion) -> None:
    (first_s, end_s), *_ = lazy.loops
    motion = flown(lazy_plan, 2, gaps=((first_s + 5.0, end_s - 5.0),), frozen=((100.0, 140.0),))
    assert whole(motion, lazy_plan, first_s, end_s) is None
    assert peaks(motion, lazy_plan, first_s, end_s) == ()
    for moment in lazy.moments:
        if moment.name == "90" and moment.loop in (1, 3):
            assert held(motion, moment.time_s) is None
            assert shift(motion, lazy_plan, moment.time_s) is None
    assert tempo(motion, lazy_plan) == STEADY
    assert reversals(motion, lazy_plan) == ()


def test_without_a_plan_or_a_motion_nothing_is_told(lazy_plan: Motion) -> None:
    motion = flown(lazy_plan, 1)
    for one, plan in ((Motion(), lazy_plan), (motion, Motion()), (Motion(), Motion())):
        assert shift(one, plan, 20.0) is None
        assert whole(one, plan, 0.0, 50.0) is None
        assert peaks(one, plan, 0.0, 50.0) == ()
        assert reversals(one, plan) == ()
        assert tempo(one, plan) == STEADY
        assert without_drift(one, plan) == one
