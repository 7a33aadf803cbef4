"""Promises of readiness and trend: an honest interval, and silence where too little is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from coach.debrief.gauging import score
from coach.debrief.readiness import ALIKE, design_effect, interval, readiness
from coach.debrief.trend import trend
from coach.logbook.run import LoggedRun, Score
from tests.debrief import students
from tests.debrief.students import PLANNED, flown
from tests.debrief.test_next_run import NOW, line

TODAY = NOW.date()


def test_the_interval_is_wilsons() -> None:
    for right, of in ((0, 8), (3, 8), (12, 16), (40, 40)):
        known = binomtest(right, of).proportion_ci(0.9, method="wilson")
        assert interval(right / of, of) == pytest.approx((known.low, known.high), abs=1e-4)


def test_the_interval_covers_the_truth_nine_times_in_ten_though_runs_differ() -> None:
    # Students whose own share changes from run to run, as alike within a run as is assumed:
    # a beta distribution with a + b = 1 / r - 1 has that correlation.
    chance = np.random.default_rng(5)
    for truth in (0.5, 0.7, 0.9):
        both = 1.0 / ALIKE - 1.0
        days = chance.beta(truth * both, (1.0 - truth) * both, size=(2000, 5))
        covered = 0
        for counts in chance.binomial(16, days):
            runs = [line(int(count), "start") for count in counts]
            found = readiness(runs, TODAY)
            assert found.low is not None and found.high is not None
            covered += found.low <= truth <= found.high
        assert covered >= 1760, f"{covered} of 2000 at {truth}"


@pytest.mark.parametrize(
    ("runs", "verdict"),
    [
        ([line(16, "start")] * 5, "ready"),
        ([line(15, "start")] * 5, "ready"),
        # Never without tones: a checkride has none.
        ([line(16, "tones")] * 5, "nearly"),
        ([line(14, "start")] * 3, "nearly"),
        ([line(9, "start")] * 5, "not yet"),
        ([line(16, "start"), line(4, "start")] * 2, "not yet"),
        ([line(16, "start")], "too few runs"),
        ([line(16, "everything")] * 5, "too few runs"),
        ([line(16, "checkpoints")] * 5, "too few runs"),
        ([line(16, "start", pace=0.75)] * 5, "too few runs"),
        ([line(16, "start", pace=1.25)] * 5, "too few runs"),
        ([line(16, "start", ended="stopped")] * 5, "too few runs"),
        ([line(16, "start", days_ago=200)] * 5, "too few runs"),
        ([], "too few runs"),
    ],
)
def test_the_verdict(runs: list[LoggedRun], verdict: str) -> None:
    found = readiness(runs, TODAY)
    assert found.verdict == verdict
    assert found.sentence.lower().startswith(verdict) and found.sentence.endswith(".")
    assert (found.share is None) == (verdict == "too few runs")


def test_three_taps_are_too_little_to_say() -> None:
    short = [LoggedRun(1, NOW, 1.0, "start", "finished", Score(3, 3, 3, 0.1))]
    assert readiness(short, TODAY).share is None


def test_the_same_runs_are_less_sure_the_older_they_are() -> None:
    def width(days: int) -> float:
        found = readiness([line(13, "start", days_ago=days)] * 5, TODAY)
        assert found.low is not None and found.high is not None
        return found.high - found.low

    assert width(0) < width(15) < width(40)


def test_runs_that_differ_much_widen_it() -> None:
    same = design_effect([Score(16, 16, 8, 0.2)] * 4)
    apart = design_effect([Score(16, 16, count, 0.2) for count in (2, 14, 2, 14)])
    assert same == pytest.approx(1.0 + 15 * ALIKE)
    assert apart > 2 * same


def test_a_whole_run_is_as_good_as_its_line() -> None:
    run = flown(students.perfect(1), support="start")
    whole = [run] * 5
    lines = [students.summary(run)] * 5
    day = run.started.date()
    assert readiness(whole, day) == readiness(lines, day)
    assert score(flown([])) == Score(16, 0, 0, None)
    assert score(flown([at + 0.2 for at in PLANNED], pace=0.5)).on_time == 0


def test_the_trend_compares_runs_at_full_pace_only_and_claims_no_chance() -> None:
    runs = [line(count) for count in (15, 15, 14, 4, 3, 4)]
    found = trend(runs)
    assert found.spark == "▃▂▃███"
    assert found.words.startswith("Getting better: at full pace 23 % on time in the first 3 of 6")
    assert trend(runs[::-1]).words.startswith("Getting worse")
    assert trend([line(10), line(12), line(11), line(10)]).words.startswith("No clear change")
    assert trend([line(12), line(8)]).words == "On time at full pace: 50 %, then 75 %."
    mixed = [line(16, pace=0.5), line(8), line(16, pace=0.5)]
    assert trend(mixed).words == "The first finished run at full pace."
    assert trend(mixed[:1]).words == "No finished run with taps at full pace yet."
