"""Smoothness is the spectral arc length of Balasubramanian et al., J. NeuroEngineering and
Rehabilitation 12 (2015) 112."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from coach.hand.readings import Floats
from coach.hand.smoothness import spectral_arc_length

RATE_HZ = 100.0


def least_jerk(lasts_s: float, at_s: Floats) -> Floats:
    """The speed of a reach with the least jerk: 30 (t2 - 2 t3 + t4) (T. Flash and N. Hogan, J.
    Neuroscience 5 (1985) 1688-1703)."""
    share = np.clip(at_s / lasts_s, 0.0, 1.0)
    return 30.0 * share**2 * (1.0 - share) ** 2


def by_definition(amplitude_of: object, slope_of: object, most_hz: float = 10.0) -> float:
    """The paper's formula, equation (2) with (3): minus the integral over omega from 0 to omega_c of
    the root of (1 / omega_c)2 + (dV / domega)2, V divided by its value at 0, and omega_c the last
    at which V is 0.05, at most 20 pi; for a V that only falls."""
    last = brentq(lambda omega: amplitude_of(omega) - 0.05, 1e-3, 2.0 * np.pi * most_hz)  # type: ignore[operator]
    found, _ = quad(lambda omega: np.hypot(1.0 / last, slope_of(omega)), 0.0, last)  # type: ignore[operator]
    return -float(found)


@pytest.mark.parametrize("width_s", [0.15, 0.4, 1.3])
def test_a_bell_has_the_arc_length_that_follows_from_its_spectrum(width_s: float) -> None:
    # The spectrum of a Gaussian is known in closed form: exp(-(omega width)2 / 2).
    times = np.arange(-6.0 * width_s, 6.0 * width_s, 1.0 / RATE_HZ)
    found = spectral_arc_length(np.exp(-0.5 * (times / width_s) ** 2), RATE_HZ)
    expected = by_definition(
        lambda omega: np.exp(-0.5 * (omega * width_s) ** 2),
        lambda omega: -omega * width_s**2 * np.exp(-0.5 * (omega * width_s) ** 2),
    )
    assert found == pytest.approx(expected, abs=0.01)


def test_it_depends_neither_on_how_far_nor_on_how_long_a_movement_is() -> None:
    once = spectral_arc_length(least_jerk(1.0, np.arange(0.0, 1.0, 1 / RATE_HZ)), RATE_HZ)
    longer = spectral_arc_length(7.0 * least_jerk(3.0, np.arange(0.0, 3.0, 1 / RATE_HZ)), RATE_HZ)
    assert longer == pytest.approx(once, abs=0.02)


def test_a_movement_in_more_pieces_is_less_smooth() -> None:
    # As the paper demands of a measure of smoothness: it falls with every further submovement.
    times = np.arange(0.0, 6.0, 1.0 / RATE_HZ)
    found = [
        spectral_arc_length(
            np.sum([least_jerk(1.0, times - 1.1 * piece) for piece in range(pieces)], axis=0),
            RATE_HZ,
        )
        for pieces in (1, 2, 3, 4, 5)
    ]
    assert found == sorted(found, reverse=True)
    assert found[0] > found[-1] + 1.0


def test_no_movement_has_no_arc() -> None:
    assert spectral_arc_length(np.zeros(50), RATE_HZ) == 0.0
    assert spectral_arc_length(np.zeros(0), RATE_HZ) == 0.0
