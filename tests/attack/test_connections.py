"""A small attack of connections, the same one every time."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

import pytest

from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.attack import connections
from tests.page.people import PATIENT_S, served


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux has all of 127.0.0.0/8 here.")
@pytest.mark.parametrize("lan", [False, True])
def test_connections_that_want_nothing_keep_nobody_waiting(
    home: Path, monkeypatch: pytest.MonkeyPatch, lan: bool
) -> None:
    try:
        addresses()
    except Problem as problem:
        if lan:
            pytest.skip(str(problem))
    monkeypatch.setattr(connections, "WITHIN_S", PATIENT_S)  # on however busy a machine
    with served(home, "Blue", lan=lan) as blue:
        tried = asyncio.run(connections.attack(blue, seed=1, count=40, longest_s=1.5))
        assert (tried.failed, tried.why) == (0, [])
        assert tried.hostile == 40 and tried.wanted >= 4
        assert "Traceback" not in blue.end()
