"""The synthetic hand is what it says it is: others are measured by it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from coach.flight.flight import Flight
from coach.hand.grip import EASY
from coach.hand.motion import Motion
from tests.hand.simulated import Simulated, more_bank, mounting


def test_its_noise_drift_delay_and_rate_are_as_said(lazy_plan: Motion) -> None:
    off, times = [], np.array([])
    for seed in range(6):
        hand = Simulated(lazy_plan, seed, drift_deg_per_min=0.0, rate_hz=40.0)
        times = hand.times_s
        off.append(np.array(hand.attitude(times)) - hand.meant(times - 0.06))
        assert np.diff(times).min() > 0.0
    assert np.std(off) == pytest.approx(1.5, rel=0.08)
    assert len(times) / (times[-1] - times[0]) == pytest.approx(40.0, rel=0.01)
    still = Simulated(lazy_plan, 1, noise_deg=0.0, delay_s=0.0)
    drifted = np.array(still.attitude([60.0])) - still.meant([60.0])
    assert np.abs(drifted) == pytest.approx(0.5)


def test_it_does_the_same_at_the_same_time_however_it_is_asked(lazy_plan: Motion) -> None:
    hand = Simulated(lazy_plan, 7)
    times = hand.times_s
    assert np.array_equal(
        np.array(hand.attitude(times))[:, 100], np.array(hand.attitude(times[100]))[:, 0]
    )
    assert Simulated(lazy_plan, 7).motion() == hand.motion() != Simulated(lazy_plan, 8).motion()


@pytest.mark.parametrize("seed", range(4))
def test_its_phone_in_any_mounting_tells_the_attitude(lazy_plan: Motion, seed: int) -> None:
    # Through the grip's own formula, and through scipy's rotations: what is up on earth, turned back
    # into the phone by the quaternion or by the angles, is up in the phone.
    hand, grip = Simulated(lazy_plan, seed), mounting(seed)
    times = hand.times_s[::50]
    assert np.array(grip.attitude(hand.up(times, grip))) == pytest.approx(
        np.array(hand.attitude(times))
    )
    quaternions = Rotation.from_quat(hand.quaternions(times, grip, 70.0))
    angles = hand.angles(times, grip, 70.0)
    for turned in (quaternions, Rotation.from_euler("ZXY", angles, degrees=True)):
        assert turned.inv().apply([0.0, 0.0, 1.0]) == pytest.approx(hand.up(times, grip))
    assert ((angles >= [0.0, -180.0, -90.0]) & (angles <= [360.0, 180.0, 90.0])).all()


def test_a_level_phone_that_points_east_has_alpha_270() -> None:
    # W3C: alpha grows counterclockwise seen from above, and is 0 to the north.
    level = Simulated(
        Motion((0.0, 10.0), (0.0, 0.0), (0.0, 0.0)), noise_deg=0.0, drift_deg_per_min=0.0
    )
    assert level.angles([0.0], EASY, 90.0)[0] == pytest.approx([270.0, 0.0, 0.0], abs=1e-9)


def test_what_is_put_in_is_in_it(lazy: Flight, lazy_plan: Motion) -> None:
    ninety = next(one for one in lazy.moments if one.name == "90")
    hand = Simulated(lazy_plan, errors=(more_bank(ninety.time_s, 11.0),))
    assert hand.meant([ninety.time_s])[1] == pytest.approx(ninety.bank_deg + 11.0, abs=0.2)
