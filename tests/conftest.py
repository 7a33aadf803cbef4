"""What every test may use."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests.sound.null_sink import NullSink, missing, private_server


@pytest.fixture
def null_sink() -> Iterator[NullSink]:
    """A private sound server with a null sink; skips where none can be had, fails so under CI."""
    if absent := missing():
        (pytest.fail if os.environ.get("CI") else pytest.skip)(absent)
    with private_server() as sink:
        yield sink
