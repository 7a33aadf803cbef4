"""Promises of the judgement: which verdict an utterance earns."""

from __future__ import annotations

from dataclasses import replace

from coach.ears.answers import Answer, Spoken, judge, taps
from coach.ears.grammar import Said
from coach.taps.tap import Tap
from tests.callouts.flown import flown

MOMENTS = tuple(
    replace(moment, time_s=10.0 * index)
    for index, moment in enumerate(flown("lazy-eight").moments[:4], 1)
)
"""45, 90, 135 and 180 at 10, 20, 30 and 40 seconds."""

GOOD = Said(values={"speed": 63, "bank": 30})


def verdicts(*spoken: Spoken, asked: tuple[int, ...] = (), until_s: float = 99.0) -> list[str]:
    found = judge(MOMENTS, asked, spoken, until_s=until_s)
    return [f"{MOMENTS[answer.moment].name} {answer.word}" for answer in found]


def named(name: str, at_s: float) -> Spoken:
    return Spoken(at_s, Said((name,)))


def test_a_name_is_on_time_early_or_late_and_a_checkpoint_without_one_is_missed() -> None:
    spoken = (named("45", 10.4), named("90", 17.9), named("180", 42.0))
    assert verdicts(*spoken) == ["45 on time", "90 early", "135 missed", "180 late"]


def test_nothing_is_missed_that_the_run_never_came_to() -> None:
    assert verdicts(named("45", 10.0), until_s=25.0) == ["45 on time", "90 missed"]


def test_a_wrong_number_is_wrong_at_any_time_and_the_right_ones_stay_right() -> None:
    spoken = Spoken(19.0, replace(GOOD, values={"speed": 63, "bank": 20}))
    answer = judge(MOMENTS, (), [spoken], until_s=20.0)[1]
    assert (answer.word, answer.right) == ("wrong value", {"speed": True, "bank": False})


def test_a_number_corrected_in_time_counts_as_it_was_said_last() -> None:
    wrong = Spoken(19.0, Said(values={"bank": 20}))
    assert "90 on time" in verdicts(wrong, Spoken(20.5, Said(values={"bank": 30})))


def test_a_name_where_another_belongs_is_out_of_order_and_the_other_is_missed() -> None:
    assert verdicts(named("135", 20.0), until_s=20.0) == [
        "45 missed",
        "90 out of order",
        "90 missed",
    ]


def test_nothing_is_judged_again_that_lies_behind() -> None:
    closer = tuple(replace(moment, time_s=moment.time_s / 4) for moment in MOMENTS)
    spoken = [named("90", 5.0), named("45", 5.5)]
    found = judge(closer, (), spoken, until_s=5.0)
    assert [(one.moment, one.word) for one in found] == [
        (0, "missed"), (1, "on time"), (1, "out of order"),
    ]  # fmt: skip


def test_an_answer_in_its_gap_is_on_time_and_one_after_it_is_late() -> None:
    quick = Spoken(17.0, GOOD, question=1, hesitation_s=0.8, gap_s=2.0)
    slow = replace(quick, hesitation_s=2.5)
    assert verdicts(quick, asked=(1,)) == ["90 on time"]
    assert verdicts(slow, asked=(1,)) == ["90 late"]
    assert verdicts(asked=(1,)) == ["90 missed"]
    answer = judge(MOMENTS, (1,), [quick], until_s=99.0)[0]
    assert (answer.at_s, answer.hesitation_s) == (17.0, 0.8)


def test_what_was_not_understood_for_sure_is_unclear_and_never_wrong() -> None:
    unsure = Spoken(
        17.0, Said(values={"bank": 50}), sure=False, question=1, hesitation_s=0.5, gap_s=2
    )
    assert verdicts(unsure, asked=(1,)) == ["90 unclear"]
    assert judge(MOMENTS, (1,), [unsure], until_s=0.0) == (Answer(1, "unclear", 17.0, {}, {}, 0.5),)


def test_an_order_is_no_answer() -> None:
    assert verdicts(Spoken(10.0, Said(order="pause")), until_s=10.0) == ["45 missed"]


def test_a_name_becomes_a_tap_and_each_number_one_with_its_value() -> None:
    called = Spoken(20.1, Said(("90",), {"bank": 30.0, "speed": 63.0}))
    unsure = replace(called, sure=False)
    assert taps(MOMENTS, [called, unsure]) == (
        Tap(20.1, None, "voice"), Tap(20.1, 63.0, "voice"), Tap(20.1, 30.0, "voice"),
    )  # fmt: skip


def test_a_pitch_below_level_becomes_a_tap_without_a_sign_as_the_keys_give_it() -> None:
    answered = Spoken(27.0, Said(values={"pitch": -6.0}), question=2, hesitation_s=0.5, gap_s=2.0)
    assert taps(MOMENTS, [answered]) == (Tap(27.0, 6.0, "voice", 0.5),)
