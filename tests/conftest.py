"""What every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from coach.sound import voices, worker
from tests.sound.null_sink import NullSink, missing, private_server

# A property holds on a busy machine too, where any example may take its time. CI repeats the same
# examples, so that a change is judged by itself and not by its luck; new ones are drawn wherever
# else the tests are run.
settings.register_profile("patient", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("patient")

# What is printed is as wide as this, whatever terminal the tests are run in.
os.environ.update(COLUMNS="80", LINES="24")

# Nor does a voice that starts slowly on a busy machine hang; the tests of those that do say when.
voices.LISTING_LIMIT_S = worker.PATIENCE_S = 60.0


@pytest.fixture
def null_sink() -> Iterator[NullSink]:
    """A private sound server with a null sink; skips where none can be had, fails so under CI."""
    if absent := missing():
        (pytest.fail if os.environ.get("CI") else pytest.skip)(absent)
    with private_server() as sink:
        yield sink
