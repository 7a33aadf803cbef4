"""A small attack on the phone of somebody alone; ``python -m tests.attack.hands`` is the whole."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

import pytest

from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.attack import hands
from tests.attack.door import Found
from tests.page.people import PATIENT_S, served


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux has all of 127.0.0.0/8 here.")
def test_no_phone_keeps_the_students_own_from_flying(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))
    monkeypatch.setattr(hands, "WITHIN_S", PATIENT_S)  # on however busy a machine
    found = Found()
    with served(home) as server:
        asyncio.run(hands.attack(server, seed=3, count=2, found=found, messages=12))
        said = server.end()
        assert hands.is_quiet(server, said)
    assert found.tried["the student's phone"] == 2 and found.tried["hostile messages"] >= 6
    assert not found.failed, found
