"""Promises of the matching and of the errors."""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Iterator
from dataclasses import replace

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from coach.problems import Problem
from coach.taps.timing import BOUNCE_S, TEMPO_LEAST, WINDOW_S, by, distinct, gauge, match


def increasing(most: int, span_s: float = 40.0) -> st.SearchStrategy[list[float]]:
    return st.lists(st.integers(0, int(span_s * 100)), max_size=most, unique=True).map(
        lambda ticks: [tick / 100 for tick in sorted(ticks)]
    )


def best_by_search(checkpoints: list[float], taps: list[float], window: float) -> tuple[int, float]:
    """Most pairs, then least total error, over every order-preserving matching there is."""
    for count in range(min(len(checkpoints), len(taps)), 0, -1):
        totals = []
        for some in itertools.combinations(checkpoints, count):
            for others in itertools.combinations(taps, count):
                errors = [abs(tap - at) for at, tap in zip(some, others, strict=True)]
                if max(errors) <= window:
                    totals.append(sum(errors))
        if totals:
            return count, min(totals)
    return 0, 0.0


@given(checkpoints=increasing(6), taps=increasing(6), window=st.sampled_from([0.5, 3.0, 4.0, 9.0]))
def test_no_other_matching_in_order_has_more_pairs_or_less_error(
    checkpoints: list[float], taps: list[float], window: float
) -> None:
    timing = match(checkpoints, taps, window)
    count, total = best_by_search(checkpoints, taps, window)
    assert len(timing.pairs) == count
    assert sum(map(abs, timing.errors_s)) == pytest.approx(total)


@given(checkpoints=increasing(8), taps=increasing(8))
def test_pairs_are_one_to_one_in_order_and_within_the_window(
    checkpoints: list[float], taps: list[float]
) -> None:
    timing = match(checkpoints, taps)
    for place in (0, 1):
        indices = [pair[place] for pair in timing.pairs]
        assert indices == sorted(set(indices))
    assert all(abs(error) <= WINDOW_S for error in timing.errors_s)
    matched = {pair[0] for pair in timing.pairs}, {pair[1] for pair in timing.pairs}
    assert matched[0] | set(timing.missed) == set(range(len(checkpoints)))
    assert matched[1] | set(timing.extra) == set(range(len(taps)))
    assert not matched[0] & set(timing.missed)
    assert not matched[1] & set(timing.extra)


def runs(count: int) -> Iterator[tuple[list[float], list[float], float]]:
    """Checkpoints, taps that go with some of them and taps that do not, and a window."""
    chance = np.random.default_rng(5)
    for _ in range(count):
        checkpoints = np.sort(chance.uniform(0.0, 140.0, chance.integers(1, 17)))
        meant = checkpoints[chance.random(len(checkpoints)) > 0.2]
        meant = meant * chance.uniform(0.9, 1.1) + chance.normal(0.0, 0.7, len(meant))
        taps = np.sort([*meant, *chance.uniform(0.0, 140.0, chance.integers(0, 12))])
        yield checkpoints.tolist(), taps.tolist(), float(chance.choice([0.07, 1.0, 4.0, 10.0]))


@pytest.mark.filterwarnings("ignore:.*beats are empty")
def test_in_4000_runs_pairs_are_as_many_and_the_f_measure_the_same_as_in_mir_eval() -> None:
    # mir_eval asks for no order. For events on a line a crossed couple of pairs can always be
    # uncrossed within the same window, so the largest number of pairs is the same.
    for checkpoints, taps, window in runs(4000):
        timing = match(checkpoints, taps, window)
        planned, actual = np.array(checkpoints), np.array(taps)
        assert len(timing.pairs) == len(mir_eval.util.match_events(planned, actual, window))
        theirs = mir_eval.beat.f_measure(planned, actual, window)
        assert timing.f_measure == pytest.approx(theirs, abs=1e-12)


@pytest.mark.filterwarnings("ignore:.*beats are empty")
def test_where_mir_eval_differs() -> None:
    # Of matchings with as many pairs it takes any, not the one with the least error: it matches
    # the tap at 1 s with the checkpoint at 0 s, though there is one at 1 s.
    planned, actual = np.array([0.0, 1.0]), np.array([1.0, 5.0])
    assert [(int(i), int(j)) for i, j in mir_eval.util.match_events(planned, actual, 3.5)] == [
        (0, 0)
    ]
    assert match([0.0, 1.0], [1.0, 5.0], 3.5).pairs == ((1, 0),)
    # Its evaluation leaves out the first 5 s, where music finds its beat; a maneuver has none to
    # find, and its first checkpoint counts. With those 5 s left out on our side it is the same.
    for checkpoints, taps, window in runs(300):
        trimmed = [mir_eval.beat.trim_beats(np.array(times)) for times in (checkpoints, taps)]
        late = [[at for at in times if at >= 5.0] for times in (checkpoints, taps)]
        theirs = mir_eval.beat.f_measure(*trimmed, window)
        assert match(late[0], late[1], window).f_measure == pytest.approx(theirs, abs=1e-12)
    # At the very edge of the window the two may differ by a rounding error; the times here are
    # never there.


def test_a_tap_between_two_checkpoints_goes_where_the_total_is_best() -> None:
    assert match([10.0, 16.0], [12.9]).pairs == ((0, 0),)
    assert match([10.0, 16.0], [13.1]).pairs == ((1, 0),)
    assert match([10.0, 16.0], [9.9, 13.1]).pairs == ((0, 0), (1, 1))
    assert match([10.0, 16.0], [12.9, 16.2]).pairs == ((0, 0), (1, 1))


def test_two_pairs_are_better_than_one_perfect_one() -> None:
    assert match([10.0, 13.0], [7.0, 10.0]).pairs == ((0, 0), (1, 1))


@given(
    st.lists(st.floats(-3.9, 3.9), min_size=3, max_size=20),
    st.floats(0.05, 5.0),
)
def test_errors_are_those_of_numpy_and_the_tempo_that_of_scipy(
    errors: list[float], step: float
) -> None:
    checkpoints = [10.0 * (index + 1) + step * index for index in range(len(errors))]
    taps = [at + error for at, error in zip(checkpoints, errors, strict=True)]
    timing = match(checkpoints, taps)
    assert len(timing.pairs) == len(errors)
    assert timing.constant_error_s == pytest.approx(np.mean(errors), abs=1e-9)
    assert timing.variable_error_s == pytest.approx(np.std(errors), abs=1e-9)
    assert timing.absolute_error_s == pytest.approx(np.mean(np.abs(errors)), abs=1e-9)
    robust = stats.theilslopes(taps, checkpoints, alpha=0.95)
    assert timing.tempo == pytest.approx(robust.slope, abs=1e-9)
    if len(errors) < TEMPO_LEAST:
        assert timing.tempo_low is None
        assert timing.tempo_high is None
    else:
        assert timing.tempo_low == pytest.approx(robust.low_slope, abs=1e-9)
        assert timing.tempo_high == pytest.approx(robust.high_slope, abs=1e-9)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 7])
def test_the_interval_of_the_tempo_holds_it_as_often_as_it_says(count: int) -> None:
    # Every order of unequal errors is as likely as any other; the true tempo is 1.
    checkpoints = [10.0 * (index + 1) for index in range(count)]
    found = [
        match(checkpoints, [at + 0.01 * rank for at, rank in zip(checkpoints, order, strict=True)])
        for order in itertools.permutations(range(count))
    ]
    held = [
        one.tempo_low <= 1.0 <= one.tempo_high
        for one in found
        if one.tempo_low is not None and one.tempo_high is not None
    ]
    if count < TEMPO_LEAST:
        assert not held
    else:
        assert sum(held) >= 0.95 * len(found)


def test_wild_taps_hardly_move_the_tempo() -> None:
    checkpoints = [10.0 * index for index in range(1, 13)]
    taps = [0.98 * at for at in checkpoints]
    taps[3] += 3.5
    taps[8] -= 2.0
    timing = match(checkpoints, taps)
    assert len(timing.pairs) == 12
    assert timing.tempo == pytest.approx(0.98, abs=0.003)
    # Least squares would be led astray three times as far and more.
    assert abs(stats.linregress(checkpoints, taps).slope - 0.98) > 0.009


def test_two_wild_taps_in_ten_move_the_tempo_by_a_hundredth_at_most() -> None:
    chance = np.random.default_rng(8)
    ours, theirs = [], []
    for _ in range(200):
        checkpoints = np.cumsum(chance.uniform(6.0, 12.0, 12))
        tempo = chance.uniform(0.98, 1.02)
        taps = tempo * checkpoints + chance.normal(0.0, 0.15, 12)
        taps[chance.choice(12, 2, replace=False)] += chance.choice([-1.0, 1.0], 2) * 2.5
        found = match(checkpoints.tolist(), np.sort(taps).tolist(), 6.0).tempo
        assert found is not None
        ours.append(abs(found - tempo))
        theirs.append(abs(stats.linregress(checkpoints, taps).slope - tempo))
    print(f"tempo off by {np.mean(ours):.4f}, least squares by {np.mean(theirs):.4f} (mean of 200)")
    assert np.percentile(ours, 95) < 0.01
    assert np.mean(ours) < np.mean(theirs) / 3


def test_a_worked_example_by_hand() -> None:
    # Errors of +0.2, -0.4, +0.6 and 0.0 s: their sum is +0.4, without signs 1.2; about their mean
    # of +0.1 they are 0.1, -0.5, 0.5 and -0.1, squares 0.01, 0.25, 0.25, 0.01, mean 0.13.
    timing = match([10.0, 20.0, 30.0, 40.0], [10.2, 19.6, 30.6, 40.0])
    assert timing.constant_error_s == pytest.approx(0.1)
    assert timing.absolute_error_s == pytest.approx(0.3)
    assert timing.variable_error_s == pytest.approx(math.sqrt(0.13))
    # CE squared and VE squared add up to the mean squared error (Schmidt and Lee, from memory).
    mean_square = (0.2**2 + 0.4**2 + 0.6**2) / 4
    assert mean_square == pytest.approx(0.1**2 + 0.13)


def test_a_tempo_below_one_is_rushing_and_above_one_dragging() -> None:
    checkpoints = [10.0, 20.0, 30.0]
    assert match(checkpoints, [9.5, 19.0, 28.5]).tempo == pytest.approx(0.95)
    assert match(checkpoints, [10.3, 20.6, 30.9]).tempo == pytest.approx(1.03)


@pytest.mark.parametrize("tempo", [0.85, 0.9, 0.95, 1.05, 1.1, 1.15])
def test_a_student_who_keeps_an_own_tempo_is_followed_out_of_the_windows(tempo: float) -> None:
    checkpoints = [33.0 * loop + at for loop in range(4) for at in (10.5, 16.8, 23.0, 33.0)]
    timing = gauge(checkpoints, [tempo * at for at in checkpoints])
    assert timing.pairs == tuple((index, index) for index in range(16))
    assert timing.tempo == pytest.approx(tempo)
    assert timing.errors_s[-1] == pytest.approx(132.0 * (tempo - 1.0))


@given(checkpoints=increasing(16, 140.0), taps=increasing(20, 140.0))
def test_following_never_loses_a_pair_and_leaves_alone_what_the_clock_explains(
    checkpoints: list[float], taps: list[float]
) -> None:
    plain, followed = match(checkpoints, taps), gauge(checkpoints, taps)
    assert followed == plain or len(followed.pairs) > len(plain.pairs)
    if not plain.missed or not plain.extra:
        assert followed == plain


def test_each_leg_has_the_same_figures_of_its_own() -> None:
    checkpoints = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    taps = [10.2, 19.0, 24.8, 30.4, 50.6, 59.0]
    legs = ["45", "90", "45", "90", "45", "90"]
    found = by(legs, checkpoints, taps, match(checkpoints, taps))
    assert list(found) == ["45", "90"]
    assert found["45"].pairs == ((0, 0), (2, 3), (4, 4))
    assert found["45"].constant_error_s == pytest.approx(0.4)
    assert found["45"].variable_error_s == pytest.approx(math.sqrt(0.08 / 3))
    assert found["45"].tempo == pytest.approx(1.01)
    assert found["90"].missed == (3,)
    assert found["90"].constant_error_s == pytest.approx(-1.0)
    assert found["90"].f_measure == pytest.approx(0.8)


@given(checkpoints=increasing(16, 140.0), taps=increasing(20, 140.0), groups=st.integers(1, 4))
def test_legs_together_are_the_whole_and_one_leg_is_all_but_the_extra_taps(
    checkpoints: list[float], taps: list[float], groups: int
) -> None:
    timing = match(checkpoints, taps)
    parts = by([index % groups for index in range(len(checkpoints))], checkpoints, taps, timing)
    for name in ("pairs", "missed"):
        together = [one for part in parts.values() for one in getattr(part, name)]
        assert sorted(together) == sorted(getattr(timing, name))
    if groups == 1 and checkpoints:
        assert parts == {0: replace(timing, extra=())}


def test_what_too_few_taps_cannot_tell_is_none() -> None:
    nothing = match([10.0, 20.0], [])
    assert nothing.missed == (0, 1)
    assert nothing.constant_error_s is None
    assert nothing.absolute_error_s is None
    one = match([10.0, 20.0], [10.1])
    assert one.constant_error_s == pytest.approx(0.1)
    assert one.variable_error_s is None
    assert match([10.0, 20.0], [10.1, 20.1]).tempo is None
    assert match([], [3.0]).extra == (0,)


def test_a_bounce_or_a_held_key_is_one_tap_at_its_first_press() -> None:
    assert distinct([5.0, 5.03]) == (5.0,)
    assert distinct([5.0, 5.033, 5.066, 5.099, 5.132, 9.0]) == (5.0, 9.0)
    assert distinct([5.0, 5.0, 5.0 + BOUNCE_S + 0.001]) == (5.0, 5.0 + BOUNCE_S + 0.001)
    assert distinct([]) == ()


@given(st.lists(st.floats(0, 200, allow_nan=False)))
def test_distinct_taps_can_always_be_matched(presses: list[float]) -> None:
    match([10.0, 20.0], distinct(presses))


@pytest.mark.parametrize(
    ("checkpoints", "taps", "window", "sentence"),
    [
        ([10.0, 9.0], [], 4.0, "checkpoints: times must increase, but number 2"),
        ([10.0], [5.0, 5.0], 4.0, "taps: times must increase, but number 2"),
        ([math.nan], [], 4.0, "checkpoints: time 1 must be a finite number"),
        ([1.0], [math.inf], 4.0, "taps: time 1 must be a finite number"),
        ([1.0], [1.0], 0.0, "window: must be above 0 s"),
        ([1.0], [1.0], math.nan, "window: must be above 0 s"),
    ],
)
def test_bad_input_is_refused_by_name(
    checkpoints: list[float], taps: list[float], window: float, sentence: str
) -> None:
    with pytest.raises(Problem, match=sentence):
        match(checkpoints, taps, window)


def test_a_key_that_is_hammered_for_an_hour_is_judged_within_seconds() -> None:
    planned = [18.0 * number for number in range(200)] + [3700.0]  # and one is missed
    taps = [0.1 * number for number in range(36_000)]
    began = time.process_time()
    timing = gauge(planned, taps)
    assert time.process_time() - began < 4.0
    assert len(timing.pairs) >= 200
