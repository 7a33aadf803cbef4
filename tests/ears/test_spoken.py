"""Promises of what is made of words at their passage: which taps, and for which question."""

from __future__ import annotations

import pytest

from coach.ears.grammar import Meaning
from coach.ears.passages import PAUSED, Passage, placed
from coach.ears.spoken import Spoken
from coach.ears.utterance import Utterance
from coach.taps.order import ORDERS
from coach.taps.tap import UNCLEAR, Tap
from tests.ears.students import lazy_eight


def test_a_name_becomes_a_tap_that_says_it_and_each_number_one_that_says_what_it_is() -> None:
    called = Spoken(20.1, Meaning(("90",), {"speed": 63.0, "bank": 30.0}))
    assert called.taps == (
        Tap(20.1, None, "voice", None, "90"),
        Tap(20.1, 63.0, "voice", None, "speed"),
        Tap(20.1, 30.0, "voice", None, "bank"),
    )


def test_an_answer_keeps_its_hesitation_and_a_pitch_below_level_its_sign() -> None:
    answered = Spoken(27.0, Meaning(values={"pitch": -6.0}), question=2, hesitation_s=0.5)
    assert answered.taps == (Tap(27.0, -6.0, "voice", 0.5, "pitch"),)


def test_what_was_not_understood_for_sure_becomes_a_tap_that_says_no_more_than_that() -> None:
    unsure = Spoken(17.0, Meaning(values={"bank": 50}), sure=False, question=1, hesitation_s=0.5)
    assert unsure.taps == (Tap(17.0, None, "voice", 0.5, UNCLEAR),)


def test_an_order_is_no_tap() -> None:
    assert Spoken(10.0, Meaning(order="pause")).taps == ()
    assert Spoken(10.0, Meaning(order="pause"), sure=False).taps == ()


REHEARSED = lazy_eight()
QUESTION = next(cue for cue in REHEARSED.sheet.cues if cue.gap_s)
DUE_S = REHEARSED.sheet.position_s(REHEARSED.flight.moments[0].time_s)


def heard(words: str, at_s: float, passage: Passage | None = None) -> Spoken | None:
    passage = passage or REHEARSED.passages.at(at_s)
    return placed(Utterance(words, at_s, at_s + 1.0, 0, 0.9), at_s, passage, REHEARSED.sheet)


def test_a_number_belongs_to_the_question_before_it_until_the_coach_has_told_it() -> None:
    gap = heard("pitch seventeen above level bank fifteen", QUESTION.end_s + 1.2)
    assert gap is not None and (gap.question, gap.said.values) == (0, {"pitch": 17, "bank": 15})
    assert gap.hesitation_s == pytest.approx(1.2)
    # The coach begins with the checkpoint's name: so soon nobody has heard its numbers.
    late = heard("bank fifteen", DUE_S + 0.3)
    assert late is not None and late.question == 0
    assert late.hesitation_s == pytest.approx(DUE_S + 0.3 - QUESTION.end_s)
    assert heard("bank fifteen", DUE_S + 1.5) is None
    named = heard("forty five bank fifteen", DUE_S + 1.5)
    assert named is not None and named.said == Meaning(("45",))


def test_where_the_coach_asks_a_number_that_answers_nothing_is_no_answer() -> None:
    before = REHEARSED.sheet.flight_start_s + 1.0
    assert heard("pitch two", before) is None
    unsure = Utterance("pitch two", before, before + 1.0, 0, 0.3)
    assert placed(unsure, before, REHEARSED.passages.at(before), REHEARSED.sheet) is None
    named = heard("forty five", before)
    assert named is not None and named.taps[0].said == "45"
    # In a room the tone at the start sounds like "two".
    assert heard("forty five", REHEARSED.sheet.flight_start_s - 0.2) is None


@pytest.mark.parametrize("order", ORDERS)
def test_an_order_is_understood_everywhere_and_while_paused_nothing_else_is(order: str) -> None:
    for at_s in (1.0, QUESTION.end_s + 0.5, DUE_S + 2.0):
        for passage in (None, PAUSED):
            found = heard(f"coach {order}", at_s, passage)
            assert found is not None and found.sure and found.said.order == order
    assert heard("bank fifteen", QUESTION.end_s + 0.5, PAUSED) is None


def test_every_question_is_about_the_checkpoint_that_comes_next() -> None:
    # The debrief finds by the time alone which question an answer belongs to.
    moments = REHEARSED.flight.moments
    due = [REHEARSED.sheet.position_s(moment.time_s) for moment in moments]
    for cue in REHEARSED.sheet.cues:
        if cue.gap_s:
            assert cue.moment == next(i for i, at in enumerate(due) if at >= cue.end_s)
