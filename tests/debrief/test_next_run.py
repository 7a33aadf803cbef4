"""Promises of the rule that picks support and pace for the next run."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.callouts.support import SUPPORTS
from coach.debrief.next_run import PACE_STEPS, next_run, next_support
from coach.logbook.run import Ending, LoggedRun, Score

NOW = datetime(2031, 5, 4, 7, 30, tzinfo=timezone.utc)
GOOD, FAIR, SLIPPED = 14, 10, 5


def line(
    on_time: int = GOOD,
    support: str = "checkpoints",
    pace: float = 1.0,
    ended: Ending = "finished",
    tapped: int = 16,
    days_ago: int = 0,
) -> LoggedRun:
    score = Score(16, tapped, on_time, 0.2)
    return LoggedRun(1, NOW - timedelta(days=days_ago), pace, support, ended, score)


@pytest.mark.parametrize(
    ("recent", "support", "pace"),
    [
        ([], "everything", 1.0),
        ([line()], "checkpoints", 1.0),
        ([line(), line()], "asking", 1.0),
        ([line(), line(support="everything")], "checkpoints", 1.0),
        ([line(), line(FAIR), line()], "checkpoints", 1.0),
        ([line(FAIR)], "checkpoints", 1.0),
        ([line(SLIPPED), line(), line()], "everything", 1.0),
        ([line(SLIPPED, "start")], "tones", 1.0),
        ([line(support="start"), line(support="start")], "start", 1.0),
        # What says nothing about the student is passed over.
        ([line(SLIPPED, ended="interrupted"), line(), line()], "asking", 1.0),
        ([line(SLIPPED, ended="stopped"), line(), line()], "asking", 1.0),
        ([line(0, tapped=0), line(), line()], "asking", 1.0),
        # Slow runs bring the pace up and take no support away.
        ([line(pace=0.5), line(pace=0.5)], "checkpoints", 0.75),
        ([line(pace=0.8), line(pace=0.8)], "checkpoints", 1.0),
        ([line(), line(pace=0.75)], "checkpoints", 1.0),
        # Nor do fast ones.
        ([line(pace=1.25), line(pace=1.25)], "checkpoints", 1.0),
        ([line(), line(pace=1.25)], "checkpoints", 1.0),
        # With no more support to give, it is slowed down.
        ([line(SLIPPED, "everything")], "everything", 0.75),
        ([line(SLIPPED, "everything", 0.5)], "everything", 0.5),
        ([line(SLIPPED, "everything", 1.25)], "everything", 1.0),
        # An older run without a word on its support is taken to have had all of it.
        ([line(support=""), line(support="")], "checkpoints", 1.0),
    ],
)
def test_one_thing_changes_at_a_time(recent: list[LoggedRun], support: str, pace: float) -> None:
    found = next_run(recent)
    assert (found.support, found.pace) == (support, pace)
    assert found.reason.endswith(".")
    assert next_support(recent) == (found.support, found.reason)


@given(
    st.lists(
        st.builds(
            line,
            on_time=st.integers(0, 16),
            support=st.sampled_from([*SUPPORTS]),
            pace=st.sampled_from(PACE_STEPS),
            tapped=st.integers(0, 16),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_never_more_than_one_step_from_the_last_run_that_counts(recent: list[LoggedRun]) -> None:
    found = next_run(recent)
    last = next((run for run in recent if run.score and run.score.tapped), None)
    if last is None:
        assert (found.support, found.pace) == ("everything", 1.0)
        return
    names = [*SUPPORTS]
    steps = abs(names.index(found.support) - names.index(last.support))
    paces = abs(PACE_STEPS.index(found.pace) - PACE_STEPS.index(last.pace))
    assert steps + paces <= 1
