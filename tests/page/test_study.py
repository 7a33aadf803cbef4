"""What the page's logbook tells, and the next session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from coach.debrief.readiness import readiness
from coach.logbook.logbook import Logbook
from coach.logbook.past import Past
from coach.logbook.run import Run
from coach.page.alone import study
from coach.practice.judging import pasts
from coach.rehearsal.today import today
from coach.settings import Settings
from tests.debrief import students
from tests.debrief.students import RUN, flown

TODAY = (RUN.started + timedelta(days=10)).date()
READY = [
    replace(
        flown(students.perfect(day), support="start"), started=RUN.started + timedelta(days=day)
    )
    for day in range(6)
]
SLIPPED = replace(
    flown(students.at_random(1), support="everything"),
    maneuver="chandelle",
    title="Chandelle",
    started=RUN.started + timedelta(days=9),
)
LENGTHS_S = {"chandelle": 60.0, "lazy-eight": 130.0, "slow-flight": 90.0}
TITLES = {"chandelle": "Chandelle", "lazy-eight": "Lazy eight", "slow-flight": "Slow flight"}


def kept(runs: Sequence[Run]) -> tuple[Past, ...]:
    with Logbook() as book:
        book.add(runs)
        return pasts(book, "")


def test_a_maneuver_is_told_with_its_last_and_best_run_trend_readiness_and_due_day(
    home: Path,
) -> None:
    found = kept([*READY, SLIPPED])
    chandelle, eight = study.flown(found, TODAY)  # the latest flown first
    assert (eight["title"], eight["runs"]) == ("Lazy eight", 6)
    assert eight["readiness"] == readiness(found[1].recent, TODAY).sentence
    assert eight["readiness"].startswith("Ready: about ")
    assert eight["trend"].startswith("No clear change: at full pace ")
    assert len(eight["shares"]) == 6 and min(eight["shares"]) > 0.8
    last = eight["recent"][0]
    assert last["when"] == "5 days ago"
    assert last["how"] == "nothing but the start, at full pace"
    assert eight["best"]["on_time"] == eight["best"]["checkpoints"] == 16
    assert eight["due"] in [f"in {days} days" for days in range(2, 31)]
    assert chandelle["recent"][0]["when"] == "yesterday"
    assert chandelle["due"] == "today"
    assert chandelle["readiness"].startswith("Too few runs to say")


def test_a_run_that_was_never_judged_is_judged_and_one_without_a_checkpoint_is_not_due(
    home: Path,
) -> None:
    stopped = replace(RUN, ended="stopped", reached_s=1.0, taps=())
    (eight,) = study.flown(kept([stopped]), date(2031, 5, 4))
    assert (eight["due"], eight["best"], eight["shares"]) == (None, None, ())
    assert eight["recent"][0]["checkpoints"] == 0


@pytest.fixture
def lengths(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.rehearsal.today.lengths_s", lambda *_: LENGTHS_S)


@pytest.mark.usefixtures("home", "lengths")
def test_the_next_session_says_how_each_maneuver_is_to_be_flown() -> None:
    found = kept([*READY, SLIPPED])
    slipped, new = study.session(today(found, TODAY), found, TITLES, Settings())
    assert slipped["title"] == "Chandelle" and slipped["reason"].startswith("Due today: ")
    assert (slipped["support"], slipped["pace"]) == ("everything", 0.75)
    assert slipped["how"] == "everything said, at pace 0.75"
    assert (new["title"], new["minutes"], new["reason"]) == (
        "Slow flight",
        1.5,
        "Never flown. Commercial, as chandelle is.",
    )
    assert (new["support"], new["pace"]) == ("everything", 1.0)


@pytest.mark.usefixtures("home", "lengths")
def test_a_support_that_the_settings_have_is_the_next_sessions() -> None:
    pasts = kept([SLIPPED])
    found = study.session(today(pasts, TODAY), pasts, TITLES, Settings(support="tones"))
    assert {one["support"] for one in found} == {"tones"}
