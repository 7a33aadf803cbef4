"""Promises of an attempt: what of it is in the logbook when, and that it is whole."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.hand.motion import Motion
from coach.logbook.file import Full
from coach.logbook.logbook import Logbook
from coach.problems import Problem
from coach.rehearsal import attempt
from coach.rehearsal.attempt import EARLIEST_TAP_S, Attempt, belongs
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard
from tests.logbook.examples import RUN

LENGTH_S = RUN.moments[-1].time_s + 5.0
REHEARSAL: Any = SimpleNamespace(flight=SimpleNamespace(length_s=LENGTH_S, moments=RUN.moments))


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


@pytest.mark.parametrize("flown_s", [-3.0, 0.0, 0.1, RUN.moments[0].time_s - 0.01])
def test_a_false_start_leaves_nothing_however_much_was_tapped(
    logbook: Logbook, flown_s: float
) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.tap(logbook, [("Ada", Tap(-0.5))])
    going_on.reached(logbook, flown_s, ["Ada", "Bo"])
    going_on.end(logbook, "stopped", flown_s, ["Ada", "Bo", "Cy"])
    assert not logbook.runs() and not going_on.numbers
    # What was still on its way, such as from a phone, belongs to it.
    going_on.tap(logbook, [("Ada", Tap(0.05))])
    going_on.reached(logbook, flown_s, ["Bo"])
    assert not logbook.runs() and not going_on.numbers


def test_what_came_to_a_checkpoint_or_was_cut_off_is_kept(logbook: Logbook) -> None:
    Attempt(REHEARSAL).end(logbook, "stopped", RUN.moments[0].time_s, ["Ada"])
    Attempt(REHEARSAL).end(logbook, "interrupted", 0.1, ["Bo"])
    assert {run.student: run.ended for run in logbook.runs()} == {
        "Ada": "stopped",
        "Bo": "interrupted",
    }


@pytest.mark.parametrize("tapped", [True, False])
def test_a_run_that_came_further_than_its_end_is_told_is_no_false_start(
    logbook: Logbook, tapped: bool
) -> None:
    going_on, at_s = Attempt(REHEARSAL), RUN.moments[0].time_s
    going_on.tap(logbook, [("Bo", Tap(0.5))])
    if tapped:
        going_on.tap(logbook, [("Ada", Tap(at_s))])
    else:
        going_on.reached(logbook, at_s, ["Ada"])
    # Such as by a server that was started again and does not know yet how far it is.
    going_on.end(logbook, "stopped", 0.0, ["Ada", "Bo"])
    assert list(going_on.numbers) == ["Ada"]
    assert [(run.student, run.ended) for run in logbook.runs()] == [("Ada", "stopped")]


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


def test_what_was_not_perceived_is_kept_with_the_run_and_has_it_judged_anew(
    logbook: Logbook,
) -> None:
    going_on = Attempt(REHEARSAL)
    # Of the count-in there is nothing to judge: it begins no run.
    going_on.unheard(logbook, [("Ada", Unheard(-2.0, -0.5, "the coach spoke"))])
    assert not going_on.numbers and not logbook.runs()
    going_on.end(logbook, "finished", LENGTH_S, ["Ada"])
    number = going_on.numbers["Ada"]
    before = logbook.run(number).score
    lost = Unheard(RUN.moments[0].time_s, RUN.moments[0].time_s + 1.0, "not understood")
    going_on.unheard(logbook, [("Ada", lost)])
    after = logbook.run(number)
    assert after.unheard == (lost,)
    assert before is not None and after.score is not None
    assert (before.checkpoints, after.score.checkpoints) == (2, 1)


def flown(from_s: float, to_s: float) -> Motion:
    times = [round(from_s + 0.02 * step, 3) for step in range(round((to_s - from_s) / 0.02))]
    return Motion(tuple(times), (0.0,) * len(times), (0.0,) * len(times), 0.02)


def parts(logbook: Logbook) -> int:
    return int(logbook._rows("SELECT count(*) FROM motions")[0][0])


def test_what_hands_fly_is_written_about_once_a_second_for_everybody_together(
    logbook: Logbook,
) -> None:
    going_on = Attempt(REHEARSAL)
    for tenth in range(-10, 10):
        at_s = tenth / 10.0
        both = [("Ada", flown(at_s, at_s + 0.1)), ("Bo", flown(at_s, at_s + 0.05))]
        going_on.motion(logbook, both)
        going_on.motion(logbook, [("Cy", Motion())])
    assert list(going_on.numbers) == ["Ada", "Bo"]
    assert parts(logbook) == 2
    going_on.end(logbook, "finished", LENGTH_S)
    assert parts(logbook) == 4
    ada, bo = (logbook.run(going_on.numbers[name]) for name in ("Ada", "Bo"))
    assert ada.motion == flown(-1.0, 1.0)
    assert len(bo.motion) * 2 == pytest.approx(len(ada.motion), abs=20)
    assert (ada.ended, bo.ended) == ("finished", "finished") and ada.score is not None


def test_a_hand_alone_has_a_run_and_one_that_comes_after_the_end_is_judged(
    logbook: Logbook,
) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.motion(logbook, [("Ada", flown(-0.5, 0.2))])
    going_on.end(logbook, "interrupted", 0.2)
    (run,) = logbook.runs()
    assert (run.student, run.motion, run.ended) == ("Ada", flown(-0.5, 0.2), "interrupted")
    logbook._change(run.id or 0, "checkpoints = NULL")
    going_on.motion(logbook, [("Ada", flown(0.2, 0.3))])
    (run,) = logbook.runs()
    assert run.motion == flown(-0.5, 0.3) and run.score is not None


def test_a_false_start_leaves_nothing_of_what_a_hand_flew(logbook: Logbook) -> None:
    going_on = Attempt(REHEARSAL)
    going_on.motion(logbook, [("Ada", flown(-1.0, 0.5)), ("Bo", flown(-1.0, -0.5))])
    going_on.end(logbook, "stopped", 0.5, ["Ada", "Bo"])
    going_on.motion(logbook, [("Ada", flown(0.5, 2.5))])
    assert not logbook.runs() and parts(logbook) == 0 and not going_on.numbers


def test_what_could_not_be_written_of_a_hand_is_not_to_be_told_again(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise Full("The disk is full.")

    going_on = Attempt(REHEARSAL)
    with monkeypatch.context() as filled:
        filled.setattr(Logbook, "motion", full)
        with pytest.raises(Full):
            going_on.motion(logbook, [("Ada", flown(0.0, 1.5))])
        assert not going_on.numbers and not logbook.runs()
        with pytest.raises(Full):
            going_on.end(logbook, "finished", LENGTH_S)
    # Who tells it again all the same does no harm.
    going_on.motion(logbook, [("Ada", flown(0.0, 1.5)), ("Ada", flown(1.5, 1.6))])
    going_on.end(logbook, "finished", LENGTH_S)
    (run,) = logbook.runs()
    assert run.motion == flown(0.0, 1.6) and run.ended == "finished"
