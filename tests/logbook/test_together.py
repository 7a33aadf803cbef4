"""Promises of a logbook that many students write at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from coach.logbook.logbook import Logbook
from coach.problems import Problem
from coach.taps.tap import Tap
from tests.logbook.examples import RUN, TAPS


def test_another_student_who_flies_along_has_the_same_run_with_taps_of_their_own(
    tmp_path: Path,
) -> None:
    with Logbook(tmp_path / "logbook.sqlite3") as log:
        first = log.begin(replace(RUN, taps=TAPS))
        along = log.begin_too(first, "Bo")
        assert along is not None
        log.tap(along, Tap(3.0))
        assert log.run(along) == replace(
            log.run(first), id=along, student="Bo", taps=(Tap(3.0),), reached_s=3.0
        )
        assert log.begin_too(99, "Cleo") is None


def test_what_is_written_together_is_there_as_a_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite3"
    with Logbook(path) as log, Logbook(path) as other:
        with log.together():
            number = log.begin(RUN)
            log.tap(number, Tap(1.0))
            assert other.last() is None
        kept = other.run(number)
        assert kept.taps == (Tap(1.0),)
        with pytest.raises(Problem), log.together():
            log.tap(number, Tap(2.0))
            log.tap(99, Tap(2.0))
        assert other.run(number) == kept
