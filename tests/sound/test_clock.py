"""Promises of the clock that says what is heard, whatever a device says of its own time."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.sound.clip import RATE
from coach.sound.clock import Clock, believed_s

BLOCK = 1200
BLOCK_S = BLOCK / RATE


def run(clock: Clock, blocks: int, begun: float = 100.0) -> None:
    for _ in range(blocks):
        clock.tick(BLOCK, begun + clock.frames / RATE)


def test_nothing_is_heard_before_the_device_asks() -> None:
    assert Clock().position_s(5.0) == 0 and not Clock().plays(5.0)


def test_the_position_is_what_is_heard_not_what_was_handed_over() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    assert clock.frames / RATE == pytest.approx(1.0)
    assert clock.position_s(100.9) == pytest.approx(0.9)
    assert clock.position_s(99.9) == 0


def test_a_key_pressed_before_during_and_after_a_pause_is_put_where_it_belongs() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    clock.mark(clock.frames, False)
    run(clock, 40)
    clock.mark(RATE, True)
    run(clock, 40)
    heard = [clock.position_s(100 + t) for t in (0.5, 1.0, 1.7, 2.0, 2.5)]
    assert heard == pytest.approx([0.5, 1.0, 1.0, 1.0, 1.5])
    assert [clock.plays(100 + t) for t in (0.5, 0.99, 1.01, 1.99, 2.01)] == [1, 1, 0, 0, 1]


def test_starting_over_goes_back_to_zero_and_leaves_the_past_alone() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    clock.mark(0, True)
    run(clock, 40)
    assert [clock.position_s(t) for t in (100.75, 101.25)] == pytest.approx([0.75, 0.25])


def test_after_a_stop_the_position_stays_what_was_heard_then() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    clock.stop(100.5)
    assert [clock.position_s(t) for t in (100.3, 100.5, 108.0)] == pytest.approx([0.3, 0.5, 0.5])


@given(seed=st.integers(0, 2**32 - 1))
def test_callbacks_that_come_late_now_and_then_move_the_position_less_than_3_ms(seed: int) -> None:
    random = np.random.default_rng(seed)
    clock = Clock()
    clock.mark(0, True)
    for _ in range(200):
        late = random.exponential(0.002) + (0.03 if random.random() < 0.2 else 0)
        clock.tick(BLOCK, 100 + clock.frames / RATE + late)
    assert clock.position_s(104) == pytest.approx(4, abs=0.003)


def test_a_device_that_fell_behind_is_believed_at_once_and_the_past_stays_true() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 100)
    clock.begin()
    run(clock, 20, begun=100.25)
    heard = [clock.position_s(t) for t in (102.4, 102.6, 102.75, 103.0)]
    assert heard == pytest.approx([2.4, 2.5, 2.5, 2.75])


def test_a_device_that_asks_much_too_late_must_have_run_dry() -> None:
    clock = Clock()
    assert not clock.is_behind(1e9)
    run(clock, 100)
    assert not clock.is_behind(102.9) and clock.is_behind(103.1)


def test_what_no_device_was_handed_is_not_heard() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    assert clock.position_s(1e6) == pytest.approx(1.0)


def test_a_tap_before_a_change_of_devices_keeps_its_place() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 40)
    assert clock.stop(100.9) == round(0.9 * RATE)
    clock.begin()
    clock.mark(round(0.4 * RATE), True)
    run(clock, 40, begun=104.0)
    heard = [clock.position_s(t) for t in (100.3, 100.89, 103.0, 105.1, 105.5)]
    assert heard == pytest.approx([0.3, 0.89, 0.9, 0.5, 0.9])


SAYS: dict[str, Callable[[float, int], tuple[float, float]]] = {
    "the truth": lambda asked, _: (asked + 0.1, asked),
    "zero for both": lambda asked, _: (0.0, 0.0),
    "zero for what is asked": lambda asked, _: (asked + 0.1, 0.0),
    "zero for what is heard": lambda asked, _: (0.0, asked),
    "no latency at all": lambda asked, _: (asked, asked),
    "what is past": lambda asked, _: (asked - 0.1, asked),
    "negative times": lambda asked, _: (-asked + 0.1, -asked),
    "two epochs": lambda asked, _: (1.7e9 + asked, asked),
    "no number": lambda asked, _: (math.nan, asked),
    "a jump now and then": lambda asked, k: (asked + (0.9 if k % 7 == 3 else 0.1), asked),
    "a time that stands still": lambda asked, _: (5.0, asked),
}


@pytest.mark.parametrize("says", SAYS.values(), ids=SAYS)
def test_whatever_a_back_end_says_the_position_is_right(
    says: Callable[[float, int], tuple[float, float]],
) -> None:
    clock = Clock()
    clock.mark(0, True)
    for k in range(200):
        asked = 1000 + k * BLOCK_S - 0.1
        heard_at, asked_at = says(asked, k)
        clock.tick(BLOCK, asked + believed_s(asked_at, heard_at, usual_s=0.1))
    assert clock.position_s(1004.5) == pytest.approx(4.5, abs=1e-6)


@pytest.mark.parametrize("off", [100e-6, -100e-6])
def test_a_devices_clock_that_runs_fast_or_slow_does_not_drift_away_in_an_hour(off: float) -> None:
    clock = Clock()
    clock.mark(0, True)
    worst = 0.0
    for k in range(round(3600 / BLOCK_S)):
        clock.tick(BLOCK, 100 + k * BLOCK_S * (1 + off))
        if k % 1000 == 999:
            heard = k * BLOCK_S
            worst = max(worst, abs(clock.position_s(100 + heard * (1 + off)) - heard))
    assert worst < 0.0001
