"""Promises of the schedule: the shaky comes first, all is covered in time, and the time is kept."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest
import yaml
from fsrs import Card, Rating, Scheduler
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from coach.debrief.governing import not_counted, why_not
from coach.debrief.readiness import readiness
from coach.debrief.trend import trend
from coach.logbook.past import Past
from coach.logbook.run import LoggedRun, Score
from coach.practice.covered import covered
from coach.practice.schedule import (
    LAST_DAYS,
    LONGEST_DAYS,
    SHAKY_FIRST_DAYS,
    due,
    grade,
    practice,
)
from coach.script.catalog import syllabus

TODAY = date(2031, 5, 20)
ZONE = timezone(timedelta(hours=2))


def line(on: date, share: float, **other: object) -> LoggedRun:
    started = datetime(on.year, on.month, on.day, 19, 30, tzinfo=ZONE)
    score = Score(8, 8, round(8 * share), 0.3)
    return replace(LoggedRun(1, started, 1.0, "", "finished", score), **other)  # type: ignore[arg-type]


def past(name: str, *runs: tuple[int, float]) -> Past:
    """Runs of a maneuver: how many days ago, and the share of checkpoints on time."""
    lines = [line(TODAY - timedelta(days=ago), share) for ago, share in sorted(runs)]
    return Past("Ada", name, name.title(), len(runs), None, tuple(lines))


@pytest.mark.parametrize(
    ("run", "graded"),
    [
        (line(TODAY, 1.0), 4),
        (line(TODAY, 0.875), 3),
        (line(TODAY, 0.75), 2),
        (line(TODAY, 0.5), 2),
        (line(TODAY, 0.375), 1),
        (line(TODAY, 1.0, pace=0.8), None),
        (line(TODAY, 1.0, pace=1.25), None),
        (line(TODAY, 1.0, ended="stopped"), None),
        (line(TODAY, 1.0, ended="interrupted"), None),
        (line(TODAY, 0.0, score=Score(8, 0, 0, None)), None),
        (line(TODAY, 0.0, score=None), None),
        (line(TODAY, 0.0, score=Score(0, 0, 0, None)), None),
    ],
)
def test_a_run_is_a_review_by_its_share_on_time(run: LoggedRun, graded: int | None) -> None:
    assert grade(run) == graded


def test_due_dates_and_recall_are_those_of_the_library() -> None:
    scheduler = Scheduler(
        learning_steps=(), relearning_steps=(), maximum_interval=LONGEST_DAYS, enable_fuzzing=False
    )
    card = Card()
    runs = [(16, 0.5), (14, 0.875), (9, 0.875)]
    for ago, rating in ((16, Rating.Hard), (14, Rating.Good), (9, Rating.Good)):
        moment = datetime(2031, 5, 20, 17, 30, tzinfo=timezone.utc) - timedelta(days=ago)
        card, _ = scheduler.review_card(card, rating, moment)
    found = due(past("chandelle", *runs), TODAY)
    assert found is not None and card.last_review is not None
    assert found.due == card.due.date()
    assert found.recall == scheduler.get_card_retrievability(
        card, card.last_review + timedelta(days=9)
    )
    assert found.last == TODAY - timedelta(days=9)


def test_a_maneuver_that_goes_well_is_due_later_and_none_later_than_a_month() -> None:
    def days(*shares: float) -> int:
        runs = [(4 * place, share) for place, share in enumerate(reversed(shares))]
        found = due(past("chandelle", *runs), TODAY)
        assert found is not None
        return (found.due - found.last).days

    assert days(0.0) == 1
    assert days(0.0) <= days(0.5) < days(0.875) < days(1.0)
    assert days(1.0, 0.875) > days(1.0, 0.5) > days(1.0, 0.0)
    assert days(*[1.0] * 12) == LONGEST_DAYS


def test_what_is_due_comes_shakiest_first_and_then_some_that_were_never_flown() -> None:
    lengths = dict.fromkeys(["new", "newer", "fresh", "well", "shaky"], 60.0)
    pasts = [past("well", (40, 1.0)), past("shaky", (12, 0.5)), past("fresh", (1, 1.0))]
    found = practice(pasts, lengths, today=TODAY, minutes=20)
    assert [one.maneuver for one in found.suggestions] == ["shaky", "well", "new", "newer"]
    assert found.note == ""
    by_readiness = practice(
        pasts, lengths, today=TODAY, minutes=20, readiness={"well": 0.1, "fresh": 0.4}
    )
    assert [one.maneuver for one in by_readiness.suggestions] == [
        "well",
        "shaky",
        "new",
        "newer",
        "fresh",
    ]
    assert [one.reason for one in by_readiness.suggestions] == [
        "Due for 32 days: flown 40 days ago, 8 of 8 checkpoints on time.",
        "Due for 11 days: flown 12 days ago, 4 of 8 checkpoints on time.",
        "Never flown.",
        "Never flown.",
        "Not due before 2031-05-27, but not ready yet: flown yesterday, 8 of 8 checkpoints on time.",
    ]


def test_nothing_is_suggested_when_all_is_fresh_and_ready() -> None:
    pasts = [past("chandelle", (1, 1.0)), past("lazy-eight", (0, 0.875))]
    lengths = {"chandelle": 60.0, "lazy-eight": 130.0}
    assert practice(pasts, lengths, today=TODAY, minutes=20).suggestions == ()


@pytest.mark.parametrize(
    ("run", "why"),
    [
        (line(TODAY, 1.0, ended="stopped"), "Flown today, stopped early"),
        (line(TODAY, 0.0, score=Score(8, 0, 0, None)), "Flown today, without taps"),
        (line(TODAY - timedelta(days=1), 1.0, pace=0.5), "Flown yesterday, at half pace"),
    ],
)
def test_what_was_flown_so_that_it_does_not_count_comes_first_of_what_is_new(
    run: LoggedRun, why: str
) -> None:
    begun = replace(past("begun", (1, 1.0)), recent=(run,))
    lengths = {"new": 60.0, "begun": 60.0}
    first, second = practice([begun], lengths, today=TODAY, minutes=20).suggestions
    assert (first.maneuver, first.reason) == ("begun", f"{why}, which does not count yet.")
    assert (second.maneuver, second.due) == ("new", None)


@given(
    st.lists(
        st.one_of(
            st.builds(
                lambda n: line(TODAY, 1.0, ended=n), st.sampled_from(("stopped", "interrupted"))
            ),
            st.builds(lambda n: line(TODAY, 1.0, pace=n), st.sampled_from((0.5, 0.75, 1.25))),
            st.builds(lambda n: line(TODAY, 0.0, score=Score(n, 0, 0, None)), st.integers(0, 8)),
        ),
        max_size=5,
    ),
    st.lists(st.sampled_from((0.25, 0.75, 1.0)), max_size=5),
    st.randoms(use_true_random=False),
)
def test_no_run_that_does_not_govern_moves_the_due_day_the_trend_or_readiness(
    others: list[LoggedRun], shares: list[float], dice: object
) -> None:
    count = [
        line(TODAY - timedelta(days=n), share, support="start") for n, share in enumerate(shares)
    ]
    mixed = [replace(one, support="start") for one in others] + count
    dice.shuffle(mixed)  # type: ignore[attr-defined]
    mixed.sort(key=lambda one: one.started, reverse=True)
    alone = replace(past("chandelle"), recent=tuple(count))
    assert due(replace(alone, recent=tuple(mixed)), TODAY) == due(alone, TODAY)
    assert trend(mixed) == trend(count)
    assert readiness(mixed, TODAY) == readiness(count, TODAY)
    for one in mixed:
        assert bool(why_not(one)) == bool(not_counted(one)) == (one not in count)


def test_before_a_checkride_the_new_is_spread_over_the_days_and_has_its_room_kept() -> None:
    lengths = dict.fromkeys([f"new {n}" for n in range(7)] + ["late"], 120.0)
    found = practice(
        [past("late", (30, 0.5))],
        lengths,
        today=TODAY,
        minutes=4,
        checkride=TODAY + timedelta(days=4),
    )
    assert [one.maneuver for one in found.suggestions] == ["new 0", "new 1"]
    assert found.suggestions[0].reason == "Never flown, 4 days to the checkride."


def test_a_newcomer_begins_a_few_a_day_in_the_order_of_the_syllabus() -> None:
    lengths = dict.fromkeys(syllabus(), 120.0)
    coming = TODAY + timedelta(days=25)
    for checkride in (None, coming):
        found = practice([], lengths, today=TODAY, minutes=20, checkride=checkride)
        assert [one.maneuver for one in found.suggestions] == syllabus()[:4]
        assert found.note == ""
    short = practice([], lengths, today=TODAY, minutes=5, checkride=coming)
    assert [one.maneuver for one in short.suggestions] == syllabus()[:2]
    in_a_hurry = practice([], lengths, today=TODAY, minutes=20, checkride=TODAY + timedelta(days=3))
    assert len(in_a_hurry.suggestions) == 9


def test_a_maneuver_of_one_s_own_is_covered_once_it_was_flown(home: Path) -> None:
    own = home / "scripts" / "maneuvers"
    own.mkdir(parents=True)
    for name in ("my-own", "a-sketch", "lazy-eight"):
        (own / f"{name}.yaml").touch()
    assert covered([]).maneuvers == tuple(syllabus())
    flown = [past("my-own", (1, 1.0)), past("of-an-old-folder", (1, 1.0))]
    assert covered(flown).maneuvers == ("my-own", *syllabus())
    assert covered(flown, "commercial").maneuvers == ("my-own", *syllabus("commercial"))


def test_who_works_on_chandelles_is_not_sent_back_to_straight_climbs() -> None:
    # Which checkride asks for which maneuver stands in each script, as its standard.
    found = covered([past("chandelle", (1, 0.5))])
    assert found.maneuvers[:4] == ("chandelle", "lazy-eight", "eights-on-pylons", "steep-spiral")
    assert sorted(found.maneuvers) == sorted(syllabus("commercial"))
    assert found.why == "Commercial, as chandelle is."
    # What was said, or is flown, is not left out; nor is anything, of who said nothing yet.
    told = covered([past("chandelle", (1, 0.5))], "private")
    assert (sorted(told.maneuvers), told.why) == (sorted(syllabus("private")), "")
    both = covered([past("s-turns", (9, 1.0)), past("chandelle", (1, 0.5))])
    assert sorted(both.maneuvers) == sorted([*syllabus("commercial"), "s-turns"])
    unsaid = covered([past("slow-flight", (1, 0.5))])
    assert (sorted(unsaid.maneuvers), unsaid.why) == (sorted(syllabus()), "")


def test_who_follows_the_syllabus_goes_on_where_they_are_whatever_they_fly_again() -> None:
    begun = syllabus()[:5]
    for latest in begun:
        flown = [past(name, (0 if name == latest else 3, 1.0)) for name in begun]
        new = [name for name in covered(flown).maneuvers if name not in begun]
        assert new[0] == syllabus("private")[5]


def test_the_time_that_is_left_is_for_what_is_new_before_anything_is_flown_again() -> None:
    lengths = dict.fromkeys(["known", *(f"new {n}" for n in range(9))], 120.0)
    known = past("known", (0, 0.5))
    found = practice([known], lengths, today=TODAY, minutes=14, why="Commercial, as it is.")
    assert [one.maneuver for one in found.suggestions] == [f"new {n}" for n in range(4)]
    assert [one.maneuver for one in found.more] == ["new 4", "new 5", "new 6"]
    assert not found.again
    assert {one.reason for one in found.more} == {"Never flown. Commercial, as it is."}
    long = practice([known], lengths, today=TODAY, minutes=60)
    assert (len(long.more), [one.maneuver for one in long.again]) == (5, ["known"])


def test_in_the_last_days_what_was_flown_and_is_shaky_comes_before_what_never_was() -> None:
    lengths = dict.fromkeys(["new", "shaky", "well", "worse", "today"], 120.0)
    pasts = [
        past("shaky", (1, 0.75)),
        past("well", (1, 1.0)),
        past("worse", (1, 0.5)),
        past("today", (0, 0.5)),
    ]

    def named(days: int, minutes: float) -> list[str]:
        coming = TODAY + timedelta(days=days)
        found = practice(pasts, lengths, today=TODAY, minutes=minutes, checkride=coming)
        return [one.maneuver for one in found.suggestions]

    assert named(SHAKY_FIRST_DAYS, 4) == ["worse", "shaky"]
    assert named(SHAKY_FIRST_DAYS, 6) == ["worse", "shaky", "new"]
    assert "new" in named(SHAKY_FIRST_DAYS + 1, 4)
    # After many good runs it is not due for long.
    slipping = past("slipping", (1, 0.75), *((ago, 1.0) for ago in range(2, 20)))
    soon = TODAY + timedelta(days=2)
    (found,) = practice(
        [slipping], {"slipping": 60.0}, today=TODAY, minutes=2, checkride=soon
    ).suggestions
    assert found.reason == (
        "Shaky, 2 days to the checkride: flown yesterday, 6 of 8 checkpoints on time."
    )


def test_the_time_that_is_left_is_for_the_shakiest_also_if_it_was_flown_today() -> None:
    names = ("well", "shaky", "worse", "worst")
    shares = (1.0, 0.875, 0.5, 0.25)
    pasts = [past(name, (0, share)) for name, share in zip(names, shares, strict=True)]
    lengths = dict.fromkeys(names, 60.0)
    found = practice(pasts, lengths, today=TODAY, minutes=20)
    assert found.suggestions == ()
    assert [one.maneuver for one in found.again] == ["worst", "worse", "shaky"]
    assert found.again[0].reason == "Flown today, 2 of 8 checkpoints on time."
    short = practice(pasts, lengths, today=TODAY, minutes=2)
    assert [one.maneuver for one in short.again] == ["worst", "worse"]


def test_what_is_due_comes_before_more_that_is_new() -> None:
    lengths = {**dict.fromkeys(["new 1", "new 2", "new 3"], 60.0), "due": 120.0}
    coming = TODAY + timedelta(days=25)
    found = practice([past("due", (30, 0.5))], lengths, today=TODAY, minutes=3, checkride=coming)
    assert [one.maneuver for one in found.suggestions] == ["due", "new 1"]


def test_every_maneuver_of_the_library_has_its_place_in_the_syllabus() -> None:
    scripts = Path(__file__).parents[2] / "scripts"
    order = yaml.safe_load((scripts / "syllabus.yaml").read_text("utf-8"))
    assert sorted(order) == sorted(path.stem for path in scripts.glob("maneuvers/*.yaml"))


def test_in_the_last_week_everything_is_flown_once_more() -> None:
    checkride = TODAY + timedelta(days=LAST_DAYS)
    pasts = [past("chandelle", (3, 1.0)), past("lazy-eight", (2, 1.0))]
    lengths = {"chandelle": 60.0, "lazy-eight": 130.0}
    (found,) = practice(pasts, lengths, today=TODAY, minutes=20, checkride=checkride).suggestions
    assert found.reason.startswith("Not flown in the last 7 days before the checkride: ")


def test_too_little_time_before_a_checkride_is_said() -> None:
    lengths = dict.fromkeys([f"new {n}" for n in range(10)], 180.0)
    found = practice([], lengths, today=TODAY, minutes=6, checkride=TODAY + timedelta(days=3))
    assert found.note == (
        "At 6 minutes a day not everything can be flown before the checkride: after today 8 of "
        "the maneuvers are left, 24 minutes, and 2 days."
    )


def test_a_checkride_today_still_wants_everything_flown() -> None:
    found = practice([], {"chandelle": 60.0}, today=TODAY, minutes=20, checkride=TODAY)
    assert [one.maneuver for one in found.suggestions] == ["chandelle"]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(30, 300), min_size=1, max_size=12),
    st.integers(1, 15),
    st.sampled_from([5, 10, 20]),
    st.randoms(use_true_random=False),
    st.booleans(),
)
def test_who_follows_it_every_day_has_flown_everything_in_the_last_week(
    seconds: list[int], days: int, minutes: int, dice: object, shaky: bool
) -> None:
    lengths = {f"maneuver {n}": float(length) for n, length in enumerate(seconds)}
    # As many a day as the spread asks for, whichever they are, must fit; and where what is shaky
    # comes first in the last days, all that may be.
    first = min(days, LAST_DAYS)
    a_day = len(seconds) if shaky else -(-len(seconds) // first)
    assume(a_day * max(seconds) <= 60 * minutes)
    shares = [0.0, 0.5, 0.875, 1.0] if shaky else [0.875, 1.0]
    checkride = TODAY + timedelta(days=days)
    flown: dict[str, Past] = {}
    for day in range(days):
        today = TODAY + timedelta(days=day)
        found = practice(flown.values(), lengths, today=today, minutes=minutes, checkride=checkride)
        assert found.note == ""
        assert sum(one.length_s for one in found.suggestions) <= 60 * minutes
        for one in found.suggestions:
            before = flown[one.maneuver].recent if one.maneuver in flown else ()
            run = line(today, dice.choice(shares))  # type: ignore[attr-defined]
            flown[one.maneuver] = replace(past(one.maneuver), recent=(run, *before))
    assert set(flown) == set(lengths)
    for one_past in flown.values():
        assert one_past.recent[0].started.date() >= checkride - timedelta(days=LAST_DAYS)


def test_the_library_is_loaded_only_when_it_is_asked_for() -> None:
    code = "import sys, coach.practice.schedule; assert 'fsrs' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[2])
