"""Promises of what is made of words at their passage: which taps, and for which question."""

from __future__ import annotations

import pytest

from coach.ears.grammar import Meaning
from coach.ears.passages import PAUSED, Passage, placed
from coach.ears.spoken import Spoken
from coach.ears.utterance import LOUD_DB, NOISE, Utterance
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


def heard(
    words: str,
    at_s: float,
    passage: Passage | None = None,
    *,
    sure: float = 0.9,
    whole: bool = True,
    stands_out_db: float = 40.0,
) -> Spoken:
    passage = passage or REHEARSED.passages.at(at_s)
    said = Utterance(words, at_s, at_s + 1.0, 0, sure, whole, stands_out_db)
    return placed(said, at_s, passage, REHEARSED.sheet)


def test_an_answer_counts_from_the_questions_first_word_on() -> None:
    early = heard("pitch seventeen above level bank fifteen", QUESTION.start_s + 0.01)
    assert (early.question, early.said.values) == (0, {"pitch": 17, "bank": 15})
    assert [tap.hesitation_s for tap in early.taps] == [0.0, 0.0]
    assert early.at_s == pytest.approx(REHEARSED.sheet.flight_s(QUESTION.start_s + 0.01))


def test_what_hardly_stands_out_of_the_room_is_never_called_wrong_and_may_be_right() -> None:
    at_s = QUESTION.end_s + 0.5
    for words, is_right in (("pitch seventeen above level bank fifteen", True),
                            ("pitch seventeen above level bank thirty", False)):  # fmt: skip
        assert heard(words, at_s, stands_out_db=LOUD_DB + 0.1).sure
        assert heard(words, at_s, stands_out_db=LOUD_DB - 0.1).sure is is_right


def test_a_number_belongs_to_the_question_before_it_until_the_coach_has_told_it() -> None:
    gap = heard("pitch seventeen above level bank fifteen", QUESTION.end_s + 1.2)
    assert (gap.question, gap.said.values) == (0, {"pitch": 17, "bank": 15})
    assert gap.hesitation_s == pytest.approx(1.2)
    # The coach begins with the checkpoint's name: so soon nobody has heard its numbers.
    late = heard("bank fifteen", DUE_S + 0.3)
    assert (late.question, late.due) == (0, "now")
    assert late.hesitation_s == pytest.approx(DUE_S + 0.3 - QUESTION.end_s)
    later = heard("bank fifteen", DUE_S + 1.5)
    assert (later.question, later.due, later.taps) == (0, "too late", ())
    named = heard("forty five bank fifteen", DUE_S + 1.5)
    assert named.said == Meaning(("45",)) and named.due == "now"


def test_where_the_coach_asks_a_number_that_answers_nothing_is_no_answer() -> None:
    before = REHEARSED.sheet.flight_start_s + 1.0
    early = heard("pitch two", before)
    assert (early.question, early.due, early.taps) == (0, "too soon", ())
    assert heard("pitch two", before, sure=0.3).taps == ()
    assert heard("forty five", before).taps[0].said == "45"
    # In a room the tone at the start sounds like "two".
    assert heard("forty five", REHEARSED.sheet.flight_start_s - 0.2).taps == ()


def test_what_is_hardly_speech_is_no_answer_and_no_callout() -> None:
    for at_s in (REHEARSED.sheet.flight_start_s + 1.0, QUESTION.end_s + 1.0, DUE_S + 0.3):
        found = heard("bank fifteen", at_s, sure=NOISE - 0.01)
        assert not found.sure and found.taps == ()


def test_of_what_lies_partly_under_the_coachs_words_only_what_is_right_is_believed() -> None:
    right = heard("pitch seventeen above level bank fifteen", QUESTION.end_s + 0.3, whole=False)
    assert right.sure and [tap.value for tap in right.taps] == [17.0, 15.0]
    wrong = heard("bank five", QUESTION.end_s + 0.3, sure=1.0, whole=False)
    assert [tap.said for tap in wrong.taps] == [UNCLEAR]
    name = heard("ninety", DUE_S - 5.0, sure=1.0, whole=False)
    assert not name.sure and all(tap.said == UNCLEAR for tap in name.taps)


@pytest.mark.parametrize("order", ORDERS)
def test_an_order_is_understood_everywhere_and_while_paused_nothing_else_is(order: str) -> None:
    for at_s in (1.0, QUESTION.end_s + 0.5, DUE_S + 2.0):
        for passage in (None, PAUSED):
            found = heard(f"coach {order}", at_s, passage)
            assert found.sure and found.said.order == order
    assert not heard("bank fifteen", QUESTION.end_s + 0.5, PAUSED).sure


def test_every_question_is_about_the_checkpoint_that_comes_next() -> None:
    # The debrief finds by the time alone which question an answer belongs to.
    moments = REHEARSED.flight.moments
    due = [REHEARSED.sheet.position_s(moment.time_s) for moment in moments]
    for cue in REHEARSED.sheet.cues:
        if cue.gap_s:
            assert cue.moment == next(i for i, at in enumerate(due) if at >= cue.start_s)
