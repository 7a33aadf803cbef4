"""Flights that hands fly."""

from __future__ import annotations

import pytest

from coach.flight.flight import Flight
from coach.hand.motion import Motion
from tests.bench.hands import flight_of
from tests.hand.simulated import planned


@pytest.fixture(scope="session")
def lazy() -> Flight:
    """A lazy eight, 214 s long."""
    return flight_of("lazy-eight")


@pytest.fixture(scope="session")
def lazy_plan(lazy: Flight) -> Motion:
    """Its attitude."""
    return planned(lazy)
