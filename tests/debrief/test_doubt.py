"""Promises of the judge: nothing is held against a student that was not clearly perceived."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.gauging import gauged
from coach.debrief.largest import errors
from coach.debrief.verdict import Verdict
from coach.debrief.words import screen
from coach.logbook.run import Run
from coach.taps.tap import Tap
from coach.taps.unheard import NOT_SEEN, WHYS, Unheard, Why
from tests.debrief.students import MOMENTS, PLANNED, RUN, flown
from tests.debrief.test_debrief import printed
from tests.debrief.test_said import QUESTION_S, answered, every, named, said_in

BETTER = {"on time": 0, "not perceived": 1}
"""How a verdict stands to the student; all the others are mistakes."""

OF_THE_VOICE = tuple(why for why in WHYS if why != NOT_SEEN)

stretches = st.builds(
    lambda begin, length, why: Unheard(begin, begin + length, why),
    st.floats(-5.0, 135.0),
    st.floats(0.0, 20.0),
    st.sampled_from(OF_THE_VOICE),
)


def student(seed: int, support: str) -> Run:
    """Somebody who calls, answers, taps and types, rightly and wrongly, with gaps, as it comes."""
    chance = random.Random(seed)
    ways = chance.choice([["name"], ["answer"], ["key"], ["name", "key"], ["name", "answer"]])
    done: list[Tap | list[Tap]] = []
    for index in range(16):
        for way in ways if chance.random() < 0.8 else []:
            off = chance.choice([0.0, 0.1, 0.3, 0.8, -0.8, 2.0, -2.5])
            other = chance.choice([None, "45", "135"])
            if way == "key":
                done.append(Tap(PLANNED[index] + off))
            elif way == "name":
                done.append(named(index, other or "", off))
            else:
                numbers = {"bank": chance.choice([15.0, 30.0, 0.0]), "speed": MOMENTS[index].ias_kt}
                done.append(answered(index, QUESTION_S - 1.0 + off, numbers))
    return said_in(*done, run=replace(RUN, support=support))


def share(run: Run) -> float:
    score = gauged(run).score
    return score.on_time / score.checkpoints if score.checkpoints else 1.0


def mistakes(run: Run) -> set[tuple[str, str, int]]:
    """Every error in every loop."""
    return {
        (error.kind, error.name, verdict.loop)
        for error in errors(gauged(run).verdicts)
        for verdict in error.verdicts
    }


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 500),
    st.sampled_from(["asking", "tones", "everything", "start", ""]),
    st.lists(stretches, max_size=6),
    st.floats(0.5, 1.0),
)
def test_what_was_not_perceived_never_makes_a_verdict_worse_nor_an_error_of_anything(
    seed: int, support: str, unheard: list[Unheard], pace: float
) -> None:
    run = replace(student(seed, support), pace=pace)
    lost = replace(run, unheard=tuple(unheard))
    before, after = gauged(run), gauged(lost)
    for one, other in zip(before.verdicts, after.verdicts, strict=True):
        assert BETTER.get(other.word, 2) <= BETTER.get(one.word, 2)
    assert mistakes(lost) <= mistakes(run)
    assert share(lost) >= share(run)
    _names_nothing_that_was_not_perceived(debrief(lost))


def _names_nothing_that_was_not_perceived(judged: Debrief) -> None:
    """No error, and no advice, is of a checkpoint that was not perceived in any loop."""
    for error in errors(judged.verdicts):
        assert all(verdict.word != "not perceived" for verdict in error.verdicts)
    held = {one.name for one in judged.verdicts if one.word not in BETTER or one.wrong}
    for name in {one.name for one in judged.verdicts} - held:
        openings = ("forget", "leave", "Work on the leg to", "numbers again: at", "Answer", "for")
        for opening in openings:
            assert not re.search(rf"{opening} {name}[ :]", judged.next)
    if judged.hesitation and judged.hesitation.loop:
        slowest = (judged.hesitation.loop, judged.hesitation.slowest)
        assert not next(one.unheard for one in judged.verdicts if (one.loop, one.name) == slowest)


def word_at(index: int, run: Run, *unheard: Unheard) -> Verdict:
    return debrief(replace(run, unheard=unheard)).verdicts[index]


@pytest.mark.parametrize("why", OF_THE_VOICE)
def test_a_call_that_may_not_have_been_perceived_is_not_missed(why: Why) -> None:
    calling = said_in(*(named(index) for index in range(16) if index != 5), run=RUN)
    at = PLANNED[5]
    assert word_at(5, calling).word == "missed"
    found = word_at(5, calling, Unheard(at - 0.2, at + 1.0, why))
    assert (found.word, found.unheard) == ("not perceived", (why,))
    # Far from it nothing of it was lost.
    assert word_at(5, calling, Unheard(at + 20.0, at + 25.0, why)).word == "missed"


def test_a_question_whose_answer_was_not_understood_is_not_missed() -> None:
    asked = every({5: []})
    at = PLANNED[5]
    assert word_at(5, asked).word == "missed"
    answer = Unheard(at - QUESTION_S + 1.0, at - QUESTION_S + 2.0, "not understood")
    assert word_at(5, asked, answer).word == "not perceived"


def test_a_question_with_room_for_its_answer_is_missed_also_where_the_coach_spoke_before() -> None:
    asked, at = every({5: []}), PLANNED[5]
    question = Unheard(at - QUESTION_S - 1.5, at - QUESTION_S, "the coach spoke")
    assert word_at(5, asked, question).word == "missed"
    # Without that room nobody could have been heard.
    over = Unheard(PLANNED[4], at - 1.0, "the coach spoke")
    assert word_at(5, asked, over).word == "not perceived"
    deaf = Unheard(0.0, 140.0, "no microphone")
    assert word_at(5, asked, deaf).word == "not perceived"


def test_a_wrong_number_that_may_have_been_put_right_does_not_count() -> None:
    wrong = answered(1, values={"bank": 30.0, "speed": 85.0})
    run, at = every({1: wrong}), PLANNED[1]
    assert word_at(1, run).word == "wrong"
    corrected = Unheard(at - QUESTION_S + 2.0, at - QUESTION_S + 3.0, "not understood")
    found = word_at(1, run, corrected)
    assert (found.word, found.wrong) == ("on time", ())
    assert [answer.words for answer in found.answers] == ["bank 30"]
    nothing_right = every({1: answered(1, values={"speed": 85.0})})
    assert word_at(1, nothing_right, corrected).word == "not perceived"


def test_a_late_answer_after_one_that_was_not_understood_is_not_late() -> None:
    run, at = every({1: answered(1, QUESTION_S + 0.4)}), PLANNED[1]
    assert word_at(1, run).word == "late"
    first = Unheard(at - 2.0, at - 1.0, "the ears were busy")
    assert word_at(1, run, first).word == "not perceived"


def test_a_late_name_where_the_coach_spoke_at_the_checkpoint_is_not_late() -> None:
    run, at = said_in(*(named(index, late_s=2.0) for index in range(16))), PLANNED[1]
    assert word_at(1, run).word == "late"
    over = Unheard(at - 0.1, at + 1.5, "the coach spoke")
    assert word_at(1, run, over).word == "not perceived"


def test_who_only_taps_is_judged_by_the_keys() -> None:
    tapping = flown([*PLANNED[:5], *PLANNED[6:]])
    everywhere = [Unheard(0.0, 140.0, why) for why in OF_THE_VOICE]
    assert word_at(5, tapping, *everywhere).word == "missed"
    late = flown([PLANNED[0] + 0.9, *PLANNED[1:]])
    assert word_at(0, late, *everywhere).word == "late"
    # And a key is a key also for one who speaks.
    both = replace(late, taps=(*late.taps, named(3)))
    assert word_at(0, both, *everywhere).word == "late"


def test_how_much_was_not_perceived_is_told_once_with_what_helps() -> None:
    run = said_in(*(named(index) for index in range(16) if index not in (3, 5, 7)))
    lost: Sequence[Unheard] = (
        *(Unheard(PLANNED[at], PLANNED[at] + 1.0, "not understood") for at in (3, 5)),
        Unheard(PLANNED[7], PLANNED[7] + 1.0, "the coach spoke"),
    )
    judged = debrief(replace(run, unheard=tuple(lost)))
    assert judged.perceived == (
        "3 of 16 not counted: 2 not understood (sit nearer, or push to talk) and 1 while the coach "
        "spoke (wear headphones, or answer once it is silent)."
    )
    words = " ".join(printed(screen(judged)).split())
    assert words.count("wear headphones") == 1
    assert judged.next.startswith("Your timing is good")
    assert debrief(run).perceived == "" and "left out" not in printed(screen(debrief(run)))


def over_loudspeakers(run: Run) -> Run:
    """Every question lies under the coach's own voice, and the time after it does not."""
    questions = [
        Unheard(at - QUESTION_S - 1.5, at - QUESTION_S, "the coach spoke") for at in PLANNED
    ]
    return replace(run, unheard=tuple(questions))


def test_over_loudspeakers_silence_is_a_miss_only_of_who_waits_for_the_end_of_questions() -> None:
    # An answer wholly under its question is perceived by nobody: these may be of that kind.
    hasty = over_loudspeakers(every({index: [] for index in range(2, 12)}))
    words = [one.word for one in debrief(hasty).verdicts]
    assert words == ["on time"] * 2 + ["not perceived"] * 10 + ["on time"] * 4
    assert gauged(hasty).score.checkpoints == 6
    assert debrief(hasty).next == (
        "Make yourself heard first: only 6 of 16 checkpoints came through, so wear headphones, or "
        "answer once it is silent."
    )
    waiting = over_loudspeakers(every({index: [] for index in (2, 6)}))
    assert [one.word for one in debrief(waiting).verdicts].count("missed") == 2
    # In headphones there is no doubt about either.
    assert debrief(every({index: [] for index in range(2, 12)})).verdicts[2].word == "missed"


def test_what_may_have_been_answered_under_its_question_is_told_once_and_never_first() -> None:
    wrong = answered(5, values={"bank": 30.0, "speed": 68.0})
    judged = debrief(over_loudspeakers(every({2: [], 5: wrong, 6: []})))
    assert judged.perceived == (
        "2 questions without an answer: one given while the coach asks is not heard (wear "
        "headphones, or answer once it is silent)."
    )
    assert judged.largest == ("loop 2, 90: speed 68 where 60 belongs", "loops 1 and 2, 135: missed")
    assert judged.next.startswith("Learn the numbers again: at 90 you said speed 68")
    words = " ".join(printed(screen(judged)).split())
    assert words.count("headphones") == 1
    alone = debrief(over_loudspeakers(every({2: [], 6: []})))
    assert alone.next == (
        "Answer the question for 135 too, once it is over: nothing was heard after it (2 times)."
    )
    assert debrief(every({2: [], 6: []})).perceived == ""


@settings(max_examples=30, deadline=None)
@example(unheard=[Unheard(0.0, 140.0, "no microphone")])
@given(unheard=st.lists(stretches, min_size=1, max_size=4))
def test_a_student_of_whom_nothing_was_perceived_is_told_what_helps_and_not_to_tap(
    unheard: list[Unheard],
) -> None:
    judged = debrief(replace(RUN, support="asking", unheard=tuple(unheard)))
    assert judged.largest == ()
    if all(one.word == "not perceived" for one in judged.verdicts):
        assert judged.next.startswith("Make yourself heard first: only 0 of 16 checkpoints came")
        assert gauged(judged.run).score.checkpoints == 0
