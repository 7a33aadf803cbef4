"""Promises of the debrief to a student who speaks: the same judge, and what was said, told."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

import pytest

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.gauging import SAID_ON_TIME_S, score
from coach.debrief.words import said, screen, table
from coach.logbook.run import Run
from coach.script.asked import Asked
from coach.taps.tap import UNCLEAR, Tap
from tests.debrief.students import MOMENTS, PLANNED, RUN
from tests.debrief.test_debrief import printed

QUESTION_S = 4.0
"""So long before its checkpoint a question is over."""


def named(index: int, name: str = "", late_s: float = 0.0) -> Tap:
    return Tap(PLANNED[index] + late_s, None, "voice", None, name or MOMENTS[index].name)


def answered(
    index: int, after_s: float = 1.0, values: Mapping[Asked, float] | None = None
) -> list[Tap]:
    """The answer to a checkpoint's question, right unless told otherwise."""
    moment = MOMENTS[index]
    right: Mapping[Asked, float] = {"bank": abs(moment.bank_deg), "speed": moment.ias_kt}
    at = moment.time_s - QUESTION_S + after_s
    given = right if values is None else values
    return [Tap(at, value, "voice", after_s, asked) for asked, value in given.items()]


def unclear(index: int, after_s: float | None = None) -> Tap:
    at = PLANNED[index] + (0.5 if after_s is None else after_s - QUESTION_S)
    return Tap(at, None, "voice", after_s, UNCLEAR)


def said_in(*taps: Tap | list[Tap], run: Run = RUN) -> Run:
    flat = [one for tap in taps for one in (tap if isinstance(tap, list) else [tap])]
    return replace(run, taps=tuple(flat))


def every(but: Mapping[int, list[Tap]] | None = None) -> Run:
    """A run in which every question is answered, some of them in another way."""
    but = but or {}
    asking = replace(RUN, support="asking")
    return said_in(*(but.get(index, answered(index)) for index in range(16)), run=asking)


def row_words(judged: Debrief) -> list[str]:
    return [row.word for row in judged.verdicts]


def test_a_name_is_early_on_time_late_or_missing_as_a_tap_is() -> None:
    run = said_in(
        named(0, late_s=0.9 * SAID_ON_TIME_S), named(1, late_s=-2.0), named(3, late_s=2.0)
    )
    judged = debrief(run)
    assert row_words(judged)[:4] == ["on time", "early", "missed", "late"]
    assert [row.how for row in judged.verdicts[:4]] == ["voice", "voice", None, "voice"]
    assert judged.verdicts[3].error_s == pytest.approx(2.0)
    assert "3 of 16 checkpoints called: 1 on time (within 0.6 s by voice)" in (judged.plain)


def test_a_name_where_another_belongs_is_out_of_order_and_the_other_is_missed() -> None:
    judged = debrief(said_in(named(0), named(1, "135"), *map(named, range(3, 16))))
    assert row_words(judged)[:4] == ["on time", "wrong", "missed", "on time"]
    assert judged.verdicts[1].misnamed == ("135",)
    assert said(judged.verdicts[1]) == "“135” out of order"
    assert "1 name out of order" in judged.plain
    assert judged.largest == (
        "loop 1, 135: missed",
        "loop 1, 90: “135” was said there",
    )
    assert "“135” out" in printed(table(judged))


def test_a_name_said_twice_counts_where_it_is_nearest_and_the_other_is_no_tap_too_many() -> None:
    judged = debrief(said_in(named(1, late_s=-3.0), named(1, late_s=0.1), named(2)))
    assert judged.verdicts[1].error_s == pytest.approx(0.1)
    assert judged.timing.extra == () and judged.verdicts[1].misnamed == ()


def test_a_name_never_counts_for_what_lies_behind_the_last_one() -> None:
    judged = debrief(said_in(named(1), named(0, late_s=9.0)))
    assert judged.verdicts[0].word == "missed" and judged.verdicts[1].misnamed == ("45",)


def test_a_late_name_is_not_taken_for_the_checkpoint_that_comes_next() -> None:
    # 3.5 s after 45 and 2.8 s before 90.
    judged = debrief(said_in(named(0, late_s=3.5)))
    assert row_words(judged)[:2] == ["late", "missed"]


def test_a_key_and_a_name_at_one_checkpoint_are_one_tap_and_none_is_too_many() -> None:
    both = [[Tap(at + 0.05), named(index, late_s=0.02)] for index, at in enumerate(PLANNED)]
    judged = debrief(said_in(*both))
    assert {row.word for row in judged.verdicts} == {"on time"}
    assert {row.how for row in judged.verdicts} == {"key"} and judged.timing.extra == ()


def test_an_answered_question_is_no_missed_checkpoint() -> None:
    judged = debrief(every())
    assert set(row_words(judged)) == {"on time"} and judged.timing.missed == ()
    assert all(row.answered and row.tapped_s is None for row in judged.verdicts)
    assert judged.plain == "16 of 16 checkpoints answered; 32 of 32 numbers right."
    assert judged.next == (
        "Your answers are good: fly it just as well once more, and the coach will say less."
    )
    kept = score(judged.run)
    assert (kept.checkpoints, kept.tapped, kept.on_time) == (16, 16, 16)
    assert kept.absolute_error_s is None


def test_four_known_mistakes_are_the_four_that_are_told() -> None:
    run = every(
        {
            1: answered(1, values={"bank": 30.0, "speed": 80.0}),
            4: answered(4, values={"bank": 30.0, "speed": 82.0}),
            10: [],
            15: answered(15, QUESTION_S + 0.3),
        }
    )
    judged = debrief(run)
    assert sorted(judged.largest[:3]) == [
        "loop 1, 90: speed 80 where 60 belongs",
        "loop 2, 45: bank 30 where 15 belongs",
        "loop 3, 135: missed",
    ]
    assert [row.word for row in judged.verdicts].count("missed") == 1
    assert judged.verdicts[15].word == "late"
    assert score(run).on_time == 12
    assert judged.plain == (
        "15 of 16 checkpoints answered, 1 of them late; 28 of 30 numbers right."
    )


def test_an_answer_is_late_once_its_checkpoint_has_come() -> None:
    judged = debrief(every({1: answered(1, QUESTION_S - 0.1), 2: answered(2, QUESTION_S + 0.1)}))
    assert row_words(judged)[1:3] == ["on time", "late"]
    assert "loop 1, 135: answered late" in judged.largest
    assert judged.next.startswith("Answer 135 sooner: you began after it had come, so say")


def test_hesitation_is_told_by_its_median_and_its_slowest() -> None:
    judged = debrief(every({6: answered(6, 3.4)}))
    assert judged.hesitation is not None
    assert judged.hesitation.words == (
        "1.0 s after the question (median of 16); the slowest 3.4 s, loop 2, 135."
    )
    assert judged.hesitation.words in " ".join(printed(screen(judged)).split())
    assert said(judged.verdicts[6]) == "by voice, bank 15, speed 80 after 3.4 s"
    assert debrief(said_in(named(0))).hesitation is None
    one = debrief(said_in(answered(0, 1.5))).hesitation
    assert one is not None and one.words == "1.5 s after the question."


def test_hesitation_and_lateness_are_the_students_own_seconds_at_half_pace() -> None:
    # Two of the flight's seconds are four of the student's: begun 3 s after the question, in time.
    slow = replace(RUN, pace=0.5, support="asking")
    tap = Tap(PLANNED[1] - 0.5, 30.0, "voice", 3.0, "bank")
    row = debrief(said_in(tap, run=slow)).verdicts[1]
    assert (row.word, row.hesitation_s) == ("on time", 3.0)


def test_what_was_heard_and_not_understood_is_told_and_is_no_mistake() -> None:
    judged = debrief(every({5: [unclear(5, 1.2)], 6: [unclear(6)]}))
    assert row_words(judged)[4:8] == ["on time", "not perceived", "not perceived", "on time"]
    assert judged.largest == () and judged.timing.missed == ()
    assert judged.plain == "14 of 16 checkpoints answered; 28 of 28 numbers right."
    assert judged.perceived == (
        "2 of 16 not counted: not understood (sit nearer, or push to talk)."
    )
    kept = score(judged.run)
    assert (kept.checkpoints, kept.on_time) == (14, 14)
    assert "90 ? " in printed(screen(judged)).replace("\N{NO-BREAK SPACE}", " ")
    # Understood the second time, it counts.
    again = debrief(every({5: [unclear(5, 0.5), *answered(5, 1.5)]}))
    assert again.verdicts[5].word == "on time"


def test_a_number_said_again_counts_as_it_was_said_last_with_the_first_ones_hesitation() -> None:
    twice = [Tap(PLANNED[1] - 3.0, 20.0, "voice", 1.0, "bank"), *answered(1, 2.5)]
    row = debrief(every({1: twice})).verdicts[1]
    assert row.wrong == () and row.hesitation_s == 1.0


def test_a_number_is_judged_as_what_it_was_said_to_be_and_not_by_the_order() -> None:
    row = debrief(said_in(answered(1, values={"speed": 30.0}))).verdicts[1]
    assert [answer.words for answer in row.answers] == ["speed 30 where 60 belongs"]


def test_a_pitch_above_level_is_wrong_where_below_level_belongs() -> None:
    down = replace(MOMENTS[2], pitch_deg=-6.0, asks=("pitch",))
    run = replace(RUN, moments=(*MOMENTS[:2], down), reached_s=40.0)
    up = replace(run, taps=(Tap(PLANNED[2] - 3.0, 6.0, "voice", 1.0, "pitch"),))
    assert [answer.words for answer in debrief(up).verdicts[2].wrong] == [
        "pitch 6 above level where 6 below level belongs"
    ]
    right = replace(run, taps=(Tap(PLANNED[2] - 3.0, -6.0, "voice", 1.0, "pitch"),))
    assert [answer.words for answer in debrief(right).verdicts[2].answers] == ["pitch 6"]
    # Keys have no sign.
    typed = replace(run, taps=(Tap(PLANNED[2] - 3.0, 6.0),))
    assert debrief(typed).verdicts[2].answers[0].right


def test_an_answer_close_before_its_checkpoint_is_no_early_tap() -> None:
    judged = debrief(every({3: answered(3, QUESTION_S - 1.0)}))
    assert judged.verdicts[3].word == "on time" and judged.timing.pairs == ()


def test_who_only_answers_is_not_asked_about_a_checkpoint_whose_question_had_no_room() -> None:
    run = every({2: []})
    moments = tuple(replace(one, asks=()) if i == 2 else one for i, one in enumerate(MOMENTS))
    judged = debrief(replace(run, moments=moments))
    assert len(judged.verdicts) == 15 and set(row_words(judged)) == {"on time"}
    assert judged.next.startswith("Your answers are good: fly it just as well once more")
    # Who taps as well is expected to tap there too.
    tapping = debrief(replace(run, moments=moments, taps=(*run.taps, Tap(PLANNED[0]))))
    assert tapping.verdicts[2].word == "missed"


def test_a_run_from_before_names_were_kept_reads_as_it_did() -> None:
    old = said_in(Tap(PLANNED[0] + 0.1, how="voice"), Tap(PLANNED[1] - 3.0, 20.0, "voice", 1.0))
    judged = debrief(old)
    assert (judged.verdicts[0].word, judged.verdicts[0].how) == ("on time", "voice")
    assert judged.verdicts[1].wrong[0].words == "bank 20 where 30 belongs"


def test_too_few_answers_say_little_and_a_run_of_both_is_told_as_both() -> None:
    few = debrief(said_in(answered(0), answered(1), run=replace(RUN, support="asking")))
    assert few.next == (
        "Answer every question: 2 of 16 were answered, and a guess teaches more than silence."
    )
    both = debrief(said_in(*(Tap(at) for at in PLANNED[:8]), *map(answered, range(8, 16))))
    assert both.plain.startswith("8 of 16 checkpoints tapped: 8 on time (within 0.25 s); ")
    assert "8 of 16 checkpoints answered; 16 of 16 numbers right" in both.plain


def test_the_same_for_programs_says_who_spoke_and_how_long_it_took() -> None:
    judged = debrief(every({1: [named(1, "135")], 2: [unclear(2, 1.0)]}))
    told = json.loads(json.dumps(judged.to_dict(), allow_nan=False))
    first, second, third, *_ = told["checkpoints"]
    assert first["answers"][0]["how"] == "voice" and first["hesitation_s"] == 1.0
    assert (second["word"], second["misnamed"]) == ("wrong", ["135"])
    assert third["word"] == "not perceived"
    assert told["hesitation"] == {
        "answers": 14, "median_s": 1.0, "slowest_s": 1.0, "slowest": "45", "loop": 1,
    }  # fmt: skip
    assert told["timing"]["answered"] == 14


def test_the_debrief_of_a_spoken_rehearsal_fits_on_one_small_screen() -> None:
    run = every(
        {
            1: answered(1, values={"bank": 30.0, "speed": 80.0}),
            5: [named(5, "135")],
            9: [unclear(9, 1.0)],
            15: answered(15, QUESTION_S + 0.3),
        }
    )
    lines = printed(screen(debrief(replace(run, student="Ada")))).splitlines()
    assert len(lines) <= 24 and max(map(len, lines)) <= 80
