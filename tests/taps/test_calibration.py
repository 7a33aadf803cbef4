"""Tapping along with a tone shows the offset of a hand and a machine, or that nothing can be told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from coach.taps.calibration import FIRST, _reach, estimate, pattern

HABIT_S = -0.03
"""A few tens of milliseconds early: B. H. Repp, Psychonomic Bulletin & Review 12 (2005) 969-992."""


def tapper(
    seed: int, delay_s: float, spread_s: float = 0.03, missed: float = 0.1, extra: int = 2
) -> list[float]:
    """A student who needs four tones to find the beat, slips now and then, and taps too often."""
    chance = np.random.default_rng(seed)
    tones = np.array(pattern())
    errors = chance.normal(HABIT_S + delay_s, spread_s, len(tones))
    errors[:FIRST] += chance.uniform(0.0, 0.3, FIRST)
    taps = (tones + errors)[chance.random(len(tones)) > missed]
    return sorted([*taps, *chance.uniform(0.0, tones[-1], extra)])


def test_no_two_tones_are_near_enough_for_a_late_tap_to_belong_to_either() -> None:
    assert min(np.diff(pattern())) > 2 * 0.55
    assert len(set(np.diff(pattern()).round(3))) == 8
    assert 30.0 < pattern()[-1] < 40.0


@pytest.mark.parametrize(("delay_s", "cause"), [(0.0, "habit"), (0.08, "delay"), (0.25, "delay")])
def test_a_known_offset_is_recovered_and_its_cause_named(delay_s: float, cause: str) -> None:
    found = [estimate(pattern(), tapper(seed, delay_s)) for seed in range(200)]
    offsets = [one.offset_s for one in found if one.offset_s is not None]
    assert len(offsets) == 200
    errors = np.array(offsets) - (HABIT_S + delay_s)
    print(f"delay {delay_s}: median error {1000 * np.median(errors):+.1f} ms, "
          f"95 % within {1000 * np.percentile(abs(errors), 95):.1f} ms")  # fmt: skip
    assert abs(np.median(errors)) < 0.003
    assert np.percentile(abs(errors), 95) < 0.02
    named = np.mean([one.cause == cause for one in found])
    assert named > 0.75
    assert not any(one.cause == "early" for one in found)
    if cause == "habit":
        assert not any(one.cause == "delay" for one in found)
    covered = [
        one.low_s <= HABIT_S + delay_s <= one.high_s
        for one in found
        if one.low_s is not None and one.high_s is not None
    ]
    assert np.mean(covered) > 0.93


def test_the_interval_is_that_of_the_sign_test() -> None:
    for count in range(10, 25):
        outside = _reach(count)
        # Both tails beyond the interval together are at most 5 % (scipy's binomial).
        assert 2 * stats.binom.cdf(outside, count, 0.5) <= 0.05
        assert 2 * stats.binom.cdf(outside + 1, count, 0.5) > 0.05


def test_a_sound_heard_sooner_than_the_machine_believes_is_no_habit() -> None:
    found = estimate(pattern(), tapper(1, -0.2))
    assert found.cause == "early" and "sooner" in found.sentence


def test_too_few_taps_give_no_figure() -> None:
    found = estimate(pattern(), tapper(1, 0.0)[:8])
    assert not found.trusted and "it takes 10" in found.sentence


def test_taps_without_a_beat_give_no_figure() -> None:
    chance = np.random.default_rng(3)
    refused = [
        not estimate(pattern(), sorted(chance.uniform(0.0, pattern()[-1], 24))).trusted
        for _ in range(100)
    ]
    assert np.mean(refused) > 0.95


def test_the_sentence_says_how_sure_it_is() -> None:
    found = estimate(pattern(), tapper(1, 0.25))
    assert found.low_s is not None and found.high_s is not None
    assert f"{1000 * found.low_s:.0f} ms and {1000 * found.high_s:.0f} ms" in found.sentence
    assert "wireless headset" in found.sentence
