"""Promises of a fresh level."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from coach.hand.grip import EASY, Grip, axis
from tests.hand.mountings import up_in_phone

SEEDS = st.integers(0, 10**6)
ANGLES = st.floats(-12.0, 12.0)


def gripped(mounting: Rotation) -> Grip:
    """The grip by which a mounting is known exactly."""
    return Grip(nose=axis(mounting.apply([1, 0, 0])), top=axis(mounting.apply([0, 0, -1])))


@given(SEEDS, st.floats(-85.0, 85.0), st.floats(-179.0, 179.0))
def test_pitch_and_bank_come_out_of_any_mounting_at_any_heading(
    seed: int, pitch: float, bank: float
) -> None:
    # scipy's Rotation is the reference: heading, pitch and bank in that order.
    mounting = Rotation.random(random_state=seed)
    found = gripped(mounting).attitude(up_in_phone(mounting, np.full(4, pitch), np.full(4, bank)))
    assert found[0] == pytest.approx(np.full(4, pitch), abs=1e-6)
    assert found[1] == pytest.approx(np.full(4, bank), abs=1e-6)


@given(SEEDS, ANGLES, ANGLES)
def test_after_a_fresh_level_that_attitude_is_level_and_the_nose_where_it_was(
    seed: int, pitch: float, bank: float
) -> None:
    mounting = Rotation.random(random_state=seed)
    up = up_in_phone(mounting, np.array([pitch]), np.array([bank]))
    grip = gripped(mounting)
    fresh = grip.levelled(up[0])
    assert np.concatenate(fresh.attitude(up)) == pytest.approx([0.0, 0.0], abs=1e-6)
    # No other way at right angles to it is nearer to the nose: it has not turned about the top.
    top = np.asarray(fresh.top)
    assert np.dot(np.cross(grip.nose, fresh.nose), top) == pytest.approx(0.0, abs=1e-9)
    assert np.dot(fresh.nose, top) == pytest.approx(0.0, abs=1e-9)
    assert np.dot(fresh.nose, grip.nose) > 0.9
    assert fresh.quality_deg == grip.quality_deg


def test_a_level_with_the_nose_straight_up_is_no_level() -> None:
    assert EASY.levelled(EASY.nose) is EASY
    assert EASY.levelled((0.0, -1.0, 0.05)) is EASY
