"""Promises of the clock that says what is heard: pauses, jumps, late callbacks, falling behind."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.sound.clip import RATE
from coach.sound.clock import Clock

BLOCK = 1200
BLOCK_S = BLOCK / RATE


def run(clock: Clock, blocks: int, begun: float = 100.0) -> None:
    for _ in range(blocks):
        clock.tick(BLOCK, begun + clock.frames / RATE)


def test_nothing_is_heard_before_the_device_asks() -> None:
    assert Clock().position_s(5.0) == 0


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


def test_a_device_that_fell_behind_is_believed_at_once() -> None:
    clock = Clock()
    clock.mark(0, True)
    run(clock, 100)
    clock.forget()
    run(clock, 1, begun=100.25)
    assert clock.position_s(103) == pytest.approx(2.75)
