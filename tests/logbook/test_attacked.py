"""A little of each attack on the logbook; the whole of them: see ``tests/attack``."""

from __future__ import annotations

import os

import pytest

from tests.attack import exports, kills, logbooks


def test_mutated_exports_are_taken_in_whole_or_refused_in_a_sentence() -> None:
    found = exports.attack(12, 6, short=True)
    assert not found.failed, found.told


def test_of_damaged_logbooks_all_is_kept_that_can_be_read() -> None:
    failed, told = logbooks.attack(12, 6)
    assert not failed, told


@pytest.mark.skipif(os.name == "nt", reason="a kill as hard as this is a POSIX signal")
def test_killed_coaches_lose_no_tap_that_they_told_of() -> None:
    assert kills.attack(12, 4) == []
