"""A small attack of connections, the same one every time."""

from __future__ import annotations

import asyncio
import sys

import pytest

from tests.attack import connections
from tests.page.conftest import blue
from tests.page.people import PATIENT_S, Served

__all__ = ["blue"]


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux has all of 127.0.0.0/8 here.")
def test_connections_that_want_nothing_keep_nobody_waiting(
    blue: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "WITHIN_S", PATIENT_S / 10)  # on however busy a machine
    tried = asyncio.run(connections.attack(blue, seed=1, count=40, longest_s=1.5))
    assert (tried.failed, tried.why) == (0, [])
    assert tried.hostile == 40 and tried.wanted >= 4
    assert "Traceback" not in blue.end()
