"""Promises of an attempt: what of it is in the logbook when, and that it is whole."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.logbook.logbook import Logbook
from coach.problems import Problem
from coach.rehearsal import attempt
from coach.rehearsal.attempt import EARLIEST_TAP_S, Attempt, belongs
from coach.taps.tap import Tap
from tests.logbook.examples import RUN

LENGTH_S = RUN.moments[-1].time_s + 5.0
REHEARSAL: Any = SimpleNamespace(flight=SimpleNamespace(length_s=LENGTH_S))


@pytest.fixture
def logbook(home: Path, monkeypatch: pytest.MonkeyPatch) -> Logbook:
    monkeypatch.setattr(attempt, "new_run", lambda _: RUN)
    return Logbook()


def test_a_run_begins_with_the_first_tap_or_moment_and_not_before(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.reached(logbook, -0.5, ["Ada"])
    assert not going_on.numbers and not logbook.runs()
    going_on.tap(logbook, [("Ada", Tap(EARLIEST_TAP_S))])
    assert list(going_on.numbers) == ["Ada"]
    going_on.reached(logbook, 0.5, ["Ada", "Bo"])
    ada, bo = (logbook.run(going_on.numbers[name]) for name in ("Ada", "Bo"))
    assert (ada.student, bo.student, ada.started) == ("Ada", "Bo", bo.started)
    assert belongs(EARLIEST_TAP_S) and not belongs(EARLIEST_TAP_S - 0.01)


def test_who_gave_up_before_the_first_moment_has_no_run(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.end(logbook, "stopped", -3.0, ["Ada"])
    assert not logbook.runs()
    going_on.end(logbook, "stopped", 0.1, ["Ada"])
    assert [run.ended for run in logbook.runs()] == ["stopped"]


def test_no_run_reaches_beyond_its_flight(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.reached(logbook, LENGTH_S + 9.0, ["Ada"])
    assert logbook.run(going_on.numbers["Ada"]).reached_s == LENGTH_S
    going_on.end(logbook, "finished", LENGTH_S + 9.0)
    assert logbook.run(going_on.numbers["Ada"]).reached_s == LENGTH_S


def test_a_tap_after_the_end_is_judged_and_the_run_stays_ended(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.end(logbook, "finished", LENGTH_S, ["Ada"])
    before = logbook.run(going_on.numbers["Ada"]).score
    going_on.tap(logbook, [("Ada", Tap(RUN.moments[0].time_s)), ("Bo", Tap(1.0))])
    ada, bo = (logbook.run(going_on.numbers[name]) for name in ("Ada", "Bo"))
    assert before is not None and before.tapped == 0
    assert ada.score is not None and ada.score.tapped == 1
    assert (ada.ended, bo.ended, ada.reached_s) == ("finished", "finished", LENGTH_S)


def test_of_taps_that_cannot_all_be_kept_none_is(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL, {"Ada": 99})
    with pytest.raises(Problem):
        going_on.tap(logbook, [("Bo", Tap(1.0)), ("Ada", Tap(1.0))])
    assert not logbook.runs() and going_on.numbers == {"Ada": 99}
