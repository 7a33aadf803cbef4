"""Promises of the debrief: the right verdicts, the right one thing, one calm screen."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console, RenderableType

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.limits import ON_TIME_S
from coach.debrief.words import screen, standard_words, table
from coach.logbook.run import Ending, Run
from coach.script.catalog import standards
from coach.script.standards import Checkride
from coach.taps.tap import Tap
from coach.words import CAUTION
from tests.debrief import students
from tests.debrief.students import MOMENTS, PLANNED, RUN, flown


def seen(judged: Debrief) -> str:
    return printed(screen(judged))


def printed(what: RenderableType) -> str:
    console = Console(width=80, file=io.StringIO(), color_system=None)
    console.print(what)
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
        (students.constantly_early, "You are 0."),
        (students.late_at_90, "Work on the leg to 90: you are "),
        (students.at_random, "Your taps do not follow the maneuver yet"),
        (students.silent, "Press the space bar the moment you reach each checkpoint"),
    ],
)
def test_each_student_is_told_the_right_one_thing(
    student: Callable[[int], list[float]], opening: str
) -> None:
    for seed in range(25):
        advice = debrief(flown(student(seed))).next
        assert advice.startswith(opening)
        assert advice.endswith(".") and advice.count(". ") == 0
    if student is students.constantly_late:
        assert "s late on the whole" in advice


def test_wrong_numbers_are_the_one_thing_where_the_timing_is_good() -> None:
    for seed in range(20):
        advice = debrief(students.answering(20, 60, at=1, seed=seed)).next
        assert advice.startswith(
            "Learn the numbers again: at 90 you said bank 20 where 30 belongs (4 times)"
        )


@pytest.mark.parametrize("tempo", [0.85, 0.9, 0.95, 1.05, 1.1, 1.15])
def test_a_student_far_off_in_tempo_is_told_that_and_not_to_tap_more(tempo: float) -> None:
    advice = debrief(flown([tempo * at for at in PLANNED])).next
    word = "You rush" if tempo < 1 else "You drag"
    assert advice.startswith(f"{word}: your tempo is {abs(round(100 * tempo - 100))} %")


def test_a_steady_300_ms_is_late_by_03_s_and_the_few_hundredths_of_everybody_are_not() -> None:
    # Tapping along comes a few tens of milliseconds early: Repp, Psychonomic Bulletin & Review 12
    # (2005) 969-992.
    late = debrief(flown([at + 0.3 for at in PLANNED]))
    assert {row.word for row in late.verdicts} == {"late"}
    assert late.next.startswith("You are 0.3 s late on the whole")
    early = debrief(flown([at - 0.3 for at in PLANNED]))
    assert early.next.startswith("You are 0.3 s early on the whole")
    usual = debrief(flown([at - 0.05 for at in PLANNED]))
    assert usual.next.startswith("Your timing is good")


def test_an_error_is_told_as_heading_and_speed() -> None:
    # Half a second at 8 degrees a second is 4° of heading.
    row = debrief(flown([PLANNED[0], PLANNED[1] + 0.5])).verdicts[1]
    assert (row.name, row.word) == ("90", "late")
    assert row.heading_deg == pytest.approx(4.0)
    assert row.meaning.startswith("0.5 s late is 4° of heading")
    # Turning left, early is still short of the checkpoint: negative.
    left = debrief(flown([PLANNED[5] - 0.5])).verdicts[5]
    assert left.heading_deg == pytest.approx(-4.0)
    # Five seconds before the end of a loop its airplane is slower by what the trace says.
    third = debrief(flown([PLANNED[3] - 3.0])).verdicts[3]
    trace = dict(zip(RUN.trace["t_s"], RUN.trace["ias_kt"], strict=True))
    assert third.speed_kt == pytest.approx(trace[30.0] - trace[33.0])
    assert " kt and " in third.meaning and third.meaning.endswith(" ft")


def test_without_a_trace_there_is_heading_and_no_speed() -> None:
    row = debrief(replace(flown([PLANNED[1] + 0.5]), trace={})).verdicts[1]
    assert row.speed_kt is None
    assert row.meaning == "0.5 s late is 4° of heading"


def test_on_time_is_within_a_quarter_of_a_second() -> None:
    errors = (0.0, ON_TIME_S - 0.01, -ON_TIME_S + 0.01, ON_TIME_S + 0.01)
    rows = debrief(flown([at + e for at, e in zip(PLANNED, errors, strict=False)])).verdicts
    assert [row.word for row in rows[:5]] == ["on time"] * 3 + ["late", "missed"]


def test_a_run_stopped_early_is_judged_by_what_was_flown() -> None:
    taps = tuple(map(Tap, students.perfect(1)[:6]))
    stopped = debrief(replace(RUN, ended="stopped", reached_s=50.0, taps=taps))
    assert len(stopped.verdicts) == 6
    assert stopped.timing.missed == ()
    assert stopped.next.endswith("fly it to the end next time.")
    finished = debrief(replace(RUN, ended="finished", reached_s=50.0, taps=taps))
    assert len(finished.verdicts) == 16


def test_a_run_that_ended_before_its_first_checkpoint_says_so() -> None:
    nothing = debrief(replace(RUN, ended="interrupted", reached_s=3.0, taps=(Tap(1.0),)))
    assert nothing.verdicts == ()
    assert nothing.plain == "The run ended before the first checkpoint."
    assert nothing.next.startswith("Fly on to the first checkpoint")
    assert "interrupted at 0:03.0" in seen(nothing)


def test_three_taps_or_fewer_say_little() -> None:
    few = debrief(flown(PLANNED[:3]))
    assert few.summary == (
        "3 taps matched, 13 missed, 0 extra: too few for a bias, a spread or a tempo."
    )
    assert few.next == "Tap every checkpoint: 3 of 16 were tapped (within 4 s)."
    short = debrief(
        replace(RUN, ended="stopped", reached_s=24.0, taps=tuple(map(Tap, PLANNED[:3])))
    )
    assert short.next == "Fly on further next time: 3 checkpoints are too few to say more."
    assert "average" not in short.plain


def test_a_single_slip_is_named_once_all_else_is_good() -> None:
    judged = debrief(flown(PLANNED[:5] + PLANNED[6:]))
    assert judged.next.startswith("Do not forget 90 (missed 1 of 4 times)")


def test_a_good_run_leads_on_to_the_next_harder_thing() -> None:
    def told(pace: float, support: str, *earlier: Run) -> str:
        return debrief(flown(PLANNED, pace, support), before(*earlier)).next

    assert told(0.8, "tones").endswith("fly it at full pace next time.")
    assert told(0.5, "tones").endswith("fly it at pace 0.75 next time.")
    assert told(1.0, "tones").endswith("just as well once more, and the coach will say less.")
    last = flown(PLANNED, support="tones")
    assert told(1.0, "tones", last).endswith("fly it with nothing but the start next time.")
    assert told(1.0, "start", last).startswith("Your timing is good: change one thing")


def test_a_bouncing_key_is_no_extra_tap() -> None:
    judged = debrief(flown(sorted([*PLANNED, *(at + 0.03 for at in PLANNED)])))
    assert judged.timing.extra == ()
    assert len(judged.taps) == 16


def before(*runs: Run) -> list[Run]:
    """These runs on the days before, newest first."""
    return [
        replace(run, started=RUN.started - timedelta(days=1 + ago)) for ago, run in enumerate(runs)
    ]


def test_a_run_is_compared_with_the_last_one_that_can_be() -> None:
    near, far = flown([at + 0.1 for at in PLANNED]), flown([at + 0.6 for at in PLANNED])
    silent, slow = flown([]), replace(flown(PLANNED), pace=0.5)
    told = debrief(near, before(silent, slow, far)).plain
    assert told.endswith("0.5 s closer than the time before.")
    assert debrief(far, before(near)).plain.endswith("0.5 s further than the time before.")
    assert debrief(near, before(near)).plain.endswith("as close as the time before.")
    assert "before" not in debrief(near, before(silent, slow)).plain
    # One that was stopped was flown as far as it went well.
    stopped = [replace(one, ended="stopped", reached_s=100.0) for one in (near, far)]
    assert "before" not in debrief(near, before(stopped[1])).plain
    assert "before" not in debrief(stopped[0], before(far)).plain
    # What a logbook's list has besides: the run itself, and later ones.
    assert "before" not in debrief(near, [far, near]).plain


def test_half_pace_does_not_look_twice_as_good() -> None:
    # Half a second late by the student's own watch is a quarter of the flight's.
    slow = debrief(flown([at + 0.25 for at in PLANNED], pace=0.5))
    full = debrief(flown([at + 0.5 for at in PLANNED]))
    assert slow.timing.absolute_error_s == pytest.approx(0.5)
    assert full.timing.absolute_error_s == pytest.approx(0.5)
    assert {row.word for row in slow.verdicts} == {row.word for row in full.verdicts} == {"late"}
    # In the airplane it is half as much: at 8 degrees a second 2 degrees, not 4.
    assert slow.verdicts[1].meaning.startswith("0.5 s late is 2° of heading")
    assert full.verdicts[1].meaning.startswith("0.5 s late is 4° of heading")
    assert slow.plain.startswith("At half pace, 16 of 16 checkpoints tapped")


def test_a_number_is_told_right_or_wrong_and_by_voice() -> None:
    spoken = replace(
        flown([]),
        taps=(Tap(PLANNED[0], how="voice"), Tap(PLANNED[1] - 3.0, 20.0, "voice"), Tap(PLANNED[1])),
    )
    judged = debrief(spoken)
    assert [row.how for row in judged.verdicts[:2]] == ["voice", "key"]
    assert judged.verdicts[1].wrong[0].words == "bank 20 where 30 belongs"
    assert judged.timing.extra == ()
    assert "2 of 16 checkpoints tapped, 1 of them by voice" in judged.plain
    assert "0 of 1 number right" in judged.plain
    shown = seen(debrief(students.answering(20, at=1)))
    assert "bank 20 where 30 belongs" in shown and "90 wrong" in shown.replace("\xa0", " ")
    assert debrief(students.answering(30, 60, at=1)).verdicts[1].wrong == ()
    # A speed alone answers the second question, where it would be wrong for the first.
    assert debrief(students.answering(60, at=1)).verdicts[1].answers[0].asked == "speed"


def test_a_number_typed_at_an_untapped_checkpoint_means_now_as_well() -> None:
    judged = debrief(replace(RUN, taps=(Tap(PLANNED[1] + 0.1, 30.0),)))
    assert judged.verdicts[1].word == "on time"
    # Three seconds before, in answer to a question, it is no early tap.
    asked = debrief(replace(RUN, taps=(Tap(PLANNED[1] - 3.0, 30.0),)))
    assert asked.verdicts[1].word == "missed" and asked.verdicts[1].answers[0].right


def test_the_three_largest_errors_are_told_the_largest_first() -> None:
    errors = {1: 0.5, 5: -1.0, 9: 0.6, 13: 0.4}
    judged = debrief(flown([at + errors.get(index, 0.0) for index, at in enumerate(PLANNED)]))
    opened = [words.split(" is ")[0] for words in judged.largest]
    assert opened == ["loop 2, 90: 1.0 s early", "loop 3, 90: 0.6 s late", "loop 1, 90: 0.5 s late"]
    assert debrief(flown(students.forgets_the_third(1))).largest == (
        "loops 1, 2, 3 and 4, 135: missed",
    )
    assert debrief(flown(PLANNED)).largest == ()


@pytest.mark.parametrize("name", [*students.TAPPING, "silent"])
def test_the_debrief_of_four_loops_fits_on_one_small_screen(name: str) -> None:
    taps = students.TAPPING.get(name, students.silent)
    history = before(*[flown(students.late_at_90(seed), support="tones") for seed in range(8)])
    for seed in range(10):
        judged = debrief(
            replace(flown(taps(seed), pace=1.0, support="tones"), student="Ada"), history
        )
        lines = seen(judged).splitlines()
        assert len(lines) <= 23 and max(map(len, lines)) <= 80
        words = " ".join(" ".join(lines).replace("\xa0", " ").split())
        for sentence in (judged.plain, judged.next, judged.readiness.sentence, CAUTION):
            assert sentence in words
        assert "-0.0" not in words


def test_the_table_has_a_line_for_each_checkpoint() -> None:
    judged = debrief(flown(students.late_at_90(3)[:-1]))
    lines = printed(table(judged))
    assert lines.count("late") == 4 and lines.count("missed") == 2
    assert judged.summary in " ".join(lines.split())
    assert "-0.0" not in lines and "+0°" not in lines
    assert max(map(len, lines.splitlines())) <= 80


def test_a_silent_run_shows_no_table_of_nothing() -> None:
    assert "loop 1" not in seen(debrief(flown([])))


def test_the_same_for_programs_is_plain_json() -> None:
    judged = debrief(replace(flown(students.late_at_90(3)[:-1]), day={"weight": "2300 lb"}))
    told = json.loads(json.dumps(judged.to_dict(), allow_nan=False))
    assert told["run"]["id"] == 12
    assert told["run"]["day"] == {"weight": "2300 lb"}
    assert [row["name"] for row in told["checkpoints"]] == [moment.name for moment in MOMENTS]
    assert told["checkpoints"][-1]["error_s"] is None
    assert told["timing"]["missed"] == 1
    assert told["next"] == judged.next
    assert told["run"]["pace"] == 1.0
    assert told["readiness"]["verdict"] == "too few runs"
    assert told["next_run"]["support"] == "everything"
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
    judged = debrief(replace(RUN, taps=tuple(map(Tap, taps)), reached_s=reached_s, ended=ended))
    assert judged.next.endswith(".")
    json.dumps(judged.to_dict(), allow_nan=False)
    assert seen(judged)


@pytest.mark.parametrize(("checkride", "told"), [("private", True), ("commercial", False)])
def test_a_debrief_says_where_the_students_checkride_does_not_ask_for_the_maneuver(
    checkride: Checkride, told: bool
) -> None:
    limits = standards("lazy-eight", checkride)
    judged = debrief(RUN, standards=limits, checkride=checkride)
    said = "The private checkride does not ask for this; the commercial one does."
    assert judged.to_dict()["not_asked"] == (said if told else "")
    assert (said in standard_words(judged)) == (said in printed(table(judged))) == told
    assert standard_words(judged)[-1].startswith("Commercial checkride, FAA-S-ACS-7, task V.D: ")
