"""What every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.sound.null_sink import NullSink, missing, private_server

# A property holds on a busy machine too, where any example may take its time.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")


@pytest.fixture
def null_sink() -> Iterator[NullSink]:
    """A private sound server with a null sink; skips where none can be had, fails so under CI."""
    if absent := missing():
        (pytest.fail if os.environ.get("CI") else pytest.skip)(absent)
    with private_server() as sink:
        yield sink
