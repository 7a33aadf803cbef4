"""Promises of how a phone's attitude is read, by W3C's text and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from coach.hand.attitude import readings, rotation, up_by_angles, up_by_quaternions
from coach.hand.grip import EASY

ALPHA, BETA, GAMMA = st.floats(0.0, 360.0), st.floats(-180.0, 180.0), st.floats(-90.0, 90.0)

# W3C Device Orientation and Motion, the examples of its section on the deviceorientation event
# (from memory): where the screen, and where the phone's top looks; x is east, y north, z up.
WORKED = [
    ("flat on a table, its top to the west", (90.0, 0.0, 0.0), (0, 0, 1), (-1, 0, 0)),
    ("flat, its top to the north", (0.0, 0.0, 0.0), (0, 0, 1), (0, 1, 0)),
    ("upright, its top up, screen to the south", (0.0, 90.0, 0.0), (0, -1, 0), (0, 0, 1)),
    # A user who faces the compass heading h holds it upright, its top to the user's right:
    # alpha is 270 - h, beta 0, gamma 90. Here h is 0 and then 90.
    ("user faces north, its top to the right", (270.0, 0.0, 90.0), (0, -1, 0), (1, 0, 0)),
    ("user faces east, its top to the right", (180.0, 0.0, 90.0), (-1, 0, 0), (0, -1, 0)),
]


@pytest.mark.parametrize(
    ("angles", "screen", "top"), [row[1:] for row in WORKED], ids=[row[0] for row in WORKED]
)
def test_the_examples_of_the_standard_come_out(
    angles: tuple[float, float, float], screen: tuple[int, ...], top: tuple[int, ...]
) -> None:
    turned = rotation(*angles)
    assert turned @ [0.0, 0.0, 1.0] == pytest.approx(screen, abs=1e-12)
    assert turned @ [0.0, 1.0, 0.0] == pytest.approx(top, abs=1e-12)


@given(ALPHA, BETA, GAMMA)
def test_the_standards_worked_compass_heading_comes_out(
    alpha: float, beta: float, gamma: float
) -> None:
    # W3C Device Orientation and Motion, its worked example of the heading of a vector out of the
    # phone's back (from memory): Vx = -cos a sin g - sin a sin b cos g, Vy = -sin a sin g +
    # cos a sin b cos g.
    a, b, g = np.radians([alpha, beta, gamma])
    east = -np.cos(a) * np.sin(g) - np.sin(a) * np.sin(b) * np.cos(g)
    north = -np.sin(a) * np.sin(g) + np.cos(a) * np.sin(b) * np.cos(g)
    back = rotation(alpha, beta, gamma) @ [0.0, 0.0, -1.0]
    assert back[:2] == pytest.approx([east, north], abs=1e-12)


@given(ALPHA, BETA, GAMMA)
def test_angles_are_turned_as_scipy_turns_them(alpha: float, beta: float, gamma: float) -> None:
    reference = Rotation.from_euler("ZXY", [alpha, beta, gamma], degrees=True)
    assert rotation(alpha, beta, gamma) == pytest.approx(reference.as_matrix(), abs=1e-12)
    up = reference.inv().apply([0.0, 0.0, 1.0])
    assert up_by_angles([(alpha, beta, gamma)])[0] == pytest.approx(up, abs=1e-12)


@given(ALPHA, BETA, GAMMA, st.floats(0.6, 3.0), st.sampled_from([1.0, -1.0]))
def test_a_quaternion_of_any_length_and_either_sign_tells_the_same_up(
    alpha: float, beta: float, gamma: float, length: float, sign: float
) -> None:
    # scipy gives x, y, z and w, as W3C Orientation Sensor does.
    quaternion = Rotation.from_euler("ZXY", [alpha, beta, gamma], degrees=True).as_quat()
    up = up_by_quaternions([sign * length * quaternion])
    assert up == pytest.approx(up_by_angles([(alpha, beta, gamma)]), abs=1e-12)
    assert np.linalg.norm(up) == pytest.approx(1.0)


def test_the_easy_grip_is_what_anybody_would_call_level_nose_up_and_bank_right() -> None:
    # By the standard's own words: beta grows as the top is raised, gamma as the left edge is.
    pitch, bank = EASY.attitude(up_by_angles([(10, 0, 0), (200, 20, 0), (300, 0, 30)]))
    assert pitch == pytest.approx([0.0, 20.0, 0.0])
    assert bank == pytest.approx([0.0, 0.0, 30.0])


def test_what_is_no_rotation_or_not_later_is_left_out() -> None:
    turned = [(0.0, 0.0, 0.0, 1.0), (0.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 1.0)]
    found = readings([1.0, 2.0, 3.0], turned)
    assert found.at_s.tolist() == [1.0, 3.0]
    assert found.up == pytest.approx(np.array([(0, 0, 1), (0, 1, 0)]))
    assert readings([2.0, 1.0, 2.0, 3.0], angles=[(0, 0, 0)] * 4).at_s.tolist() == [2.0, 3.0]
    assert readings([1.0, np.nan], angles=[(0, 0, 0)] * 2).at_s.tolist() == [1.0]
    assert readings([1.0, 2.0, 3.0], angles=[(0, 0, 0)] * 2).at_s.tolist() == [1.0, 2.0]
    assert len(readings([])) == len(readings([], [], [])) == 0
