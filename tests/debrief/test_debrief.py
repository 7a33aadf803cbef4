"""Promises of the debrief: the right verdicts, the right one thing, one calm screen."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from coach.caution import CAUTION
from coach.debrief.checkpoints import ON_TIME_S
from coach.debrief.debrief import Debrief, debrief
from coach.debrief.words import screen
from coach.logbook.run import Ending
from tests.debrief import students
from tests.debrief.students import MOMENTS, PLANNED, RUN, flown


def seen(judged: Debrief, width: int = 80) -> str:
    console = Console(width=width, file=io.StringIO(), color_system=None)
    console.print(screen(judged))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


@pytest.mark.parametrize(
    ("student", "opening"),
    [
        (students.perfect, "Your timing is good"),
        (students.rusher, "You rush: your tempo is 3 % quicker"),
        (students.dragger, "You drag: your tempo is"),
        (students.forgets_the_third, "Do not forget 135 (missed 4 of 4 times)"),
        (students.constantly_late, "You are 0."),
        (students.late_at_90, "Work on the leg to 90: you are "),
        (students.at_random, "Your taps do not follow the maneuver yet"),
        (students.silent, "Press the space bar the moment you reach each checkpoint"),
    ],
)
def test_each_student_is_told_the_right_one_thing(
    student: Callable[[int], list[float]], opening: str
) -> None:
    for seed in range(100):
        advice = debrief(flown(student(seed))).next
        assert advice.startswith(opening)
        assert advice.endswith(".") and advice.count(". ") == 0
    if student is students.constantly_late:
        assert "s late on the whole" in advice


@pytest.mark.parametrize("tempo", [0.85, 0.9, 0.95, 1.05, 1.1, 1.15])
def test_a_student_far_off_in_tempo_is_told_that_and_not_to_tap_more(tempo: float) -> None:
    advice = debrief(flown([tempo * at for at in PLANNED])).next
    word = "You rush" if tempo < 1 else "You drag"
    assert advice.startswith(f"{word}: your tempo is {abs(round(100 * tempo - 100))} %")


def test_a_steady_300_ms_is_late_by_03_s_and_the_few_hundredths_of_everybody_are_not() -> None:
    # Tapping along comes a few tens of milliseconds early: Repp, Psychonomic Bulletin & Review 12
    # (2005) 969-992.
    late = debrief(flown([at + 0.3 for at in PLANNED]))
    assert {row.word for row in late.rows} == {"late"}
    assert late.next.startswith("You are 0.3 s late on the whole")
    early = debrief(flown([at - 0.3 for at in PLANNED]))
    assert early.next.startswith("You are 0.3 s early on the whole")
    usual = debrief(flown([at - 0.05 for at in PLANNED]))
    assert usual.next.startswith("Your timing is good")


def test_an_error_is_told_as_heading_and_speed() -> None:
    # Half a second at 8 degrees a second is 4 degrees of heading.
    row = debrief(flown([PLANNED[0], PLANNED[1] + 0.5])).rows[1]
    assert (row.name, row.word) == ("90", "late")
    assert row.heading_deg == pytest.approx(4.0)
    assert row.meaning.startswith("0.5 s late is 4 degrees of heading")
    # Turning left, early is still short of the checkpoint: negative.
    left = debrief(flown([PLANNED[5] - 0.5])).rows[5]
    assert left.heading_deg == pytest.approx(-4.0)
    # Five seconds before the end of a loop its airplane is slower by what the trace says.
    third = debrief(flown([PLANNED[3] - 3.0])).rows[3]
    trace = dict(zip(RUN.trace["t_s"], RUN.trace["ias_kt"], strict=True))
    assert third.speed_kt == pytest.approx(trace[30.0] - trace[33.0])
    assert third.meaning.endswith("knots")


def test_without_a_trace_there_is_heading_and_no_speed() -> None:
    row = debrief(replace(flown([PLANNED[1] + 0.5]), trace={})).rows[1]
    assert row.speed_kt is None
    assert row.meaning == "0.5 s late is 4 degrees of heading"


def test_on_time_is_within_a_quarter_of_a_second() -> None:
    errors = (0.0, ON_TIME_S - 0.01, -ON_TIME_S + 0.01, ON_TIME_S + 0.01)
    rows = debrief(flown([at + e for at, e in zip(PLANNED, errors, strict=False)])).rows
    assert [row.word for row in rows[:5]] == ["on time"] * 3 + ["late", "missed"]


def test_a_run_stopped_early_is_judged_by_what_was_flown() -> None:
    taps = tuple(students.perfect(1)[:6])
    stopped = debrief(replace(RUN, ended="stopped", reached_s=50.0, taps_s=taps))
    assert len(stopped.rows) == 6
    assert stopped.timing.missed == ()
    assert stopped.next.endswith("fly it to the end next time.")
    finished = debrief(replace(RUN, ended="finished", reached_s=50.0, taps_s=taps))
    assert len(finished.rows) == 16


def test_a_run_that_ended_before_its_first_checkpoint_says_so() -> None:
    nothing = debrief(replace(RUN, ended="interrupted", reached_s=3.0, taps_s=(1.0,)))
    assert nothing.rows == ()
    assert nothing.plain == "The run ended before the first checkpoint."
    assert nothing.next.startswith("Fly on to the first checkpoint")
    assert "interrupted at 0:03.0" in seen(nothing)


def test_three_taps_or_fewer_say_little() -> None:
    few = debrief(flown(PLANNED[:3]))
    assert few.summary == (
        "3 taps matched, 13 missed, 0 extra: too few for a bias, a spread or a tempo."
    )
    assert few.next.startswith("Tap every checkpoint: 3 of 16 were tapped")
    short = debrief(replace(RUN, ended="stopped", reached_s=24.0, taps_s=tuple(PLANNED[:3])))
    assert short.next == "Fly on further next time: 3 checkpoints are too few to say more."
    assert "average" not in short.plain


def test_a_single_slip_is_named_once_all_else_is_good() -> None:
    judged = debrief(flown(PLANNED[:5] + PLANNED[6:]))
    assert judged.next.startswith("Do not forget 90 (missed 1 of 4 times)")


def test_a_good_run_leads_on_to_the_next_harder_thing() -> None:
    slow = debrief(replace(flown(PLANNED), pace=0.8))
    assert slow.next.endswith("fly it at the airplane's own tempo next time.")
    assert debrief(flown(PLANNED)).next.startswith("Your timing is good: change one thing")


def test_a_bouncing_key_is_no_extra_tap() -> None:
    judged = debrief(flown(sorted([*PLANNED, *(at + 0.03 for at in PLANNED)])))
    assert judged.timing.extra == ()
    assert len(judged.taps_s) == 16


def test_a_run_is_compared_with_the_last_one_that_can_be() -> None:
    now = flown([at + 0.1 for at in PLANNED])
    before = flown([at + 0.6 for at in PLANNED])
    silent, slow = flown([]), replace(flown(PLANNED), pace=0.5)
    assert debrief(now, [silent, slow, before]).plain.endswith("0.5 s closer than the time before.")
    assert debrief(before, [now]).plain.endswith("0.5 s further than the time before.")
    assert debrief(now, [now]).plain.endswith("as close as the time before.")
    assert "before" not in debrief(now, [silent, slow]).plain


def test_the_screen_shows_every_checkpoint_the_three_sentences_and_the_caution() -> None:
    judged = debrief(flown(students.late_at_90(3)[:-1]))
    lines = seen(judged)
    assert lines.count("late") >= 4 and lines.count("missed") >= 1
    words = " ".join(lines.split())
    for sentence in (judged.plain, judged.summary, judged.next):
        first, last = sentence.split()[:4], sentence.split()[-3:]
        assert " ".join(first) in words and " ".join(last) in words
    assert CAUTION in words
    assert max(len(line) for line in lines.splitlines()) <= 80
    assert "-0.0" not in lines and "+0°" not in lines


def test_a_silent_run_shows_no_table_of_nothing() -> None:
    assert "planned" not in seen(debrief(flown([])))


def test_the_same_for_programs_is_plain_json() -> None:
    judged = debrief(replace(flown(students.late_at_90(3)[:-1]), day={"weight": "2300 lb"}))
    told = json.loads(json.dumps(judged.to_dict(), allow_nan=False))
    assert told["run"]["id"] == 12
    assert told["run"]["day"] == {"weight": "2300 lb"}
    assert [row["name"] for row in told["checkpoints"]] == [moment.name for moment in MOMENTS]
    assert told["checkpoints"][-1]["error_s"] is None
    assert told["timing"]["missed"] == 1
    assert told["next"] == judged.next
    assert told["caution"] == CAUTION


@given(
    taps=st.lists(st.floats(0.0, 140.0), max_size=40),
    reached_s=st.floats(0.0, 132.0),
    finished=st.booleans(),
)
def test_whatever_was_tapped_there_is_a_debrief(
    taps: list[float], reached_s: float, finished: bool
) -> None:
    ended: Ending = "finished" if finished else "stopped"
    judged = debrief(replace(RUN, taps_s=tuple(taps), reached_s=reached_s, ended=ended))
    assert judged.next.endswith(".")
    json.dumps(judged.to_dict(), allow_nan=False)
    assert seen(judged)
