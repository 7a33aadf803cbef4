"""Promises of the grammars: what may be said at a place, and what it means."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.callouts.said import told
from coach.callouts.wording import render, values
from coach.ears.figures import likely
from coach.ears.grammar import Grammar, Meaning, answer, callout, name_wordings
from coach.flight.asked import is_right, right
from coach.script.asked import ASKED, Asked
from tests.callouts.flown import flown

from .attempts import MANEUVERS, attempts


def at(name: str, maneuver: str = "lazy-eight", *, called: bool = False) -> Grammar:
    moments = flown(maneuver).moments
    index = next(i for i, moment in enumerate(moments) if moment.name == name)
    return callout(moments, index) if called else answer(moments, index)


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("sixty three knots bank thirty", {"speed": 63, "bank": 30}),
        ("bank twenty speed one hundred two", {"speed": 102, "bank": 20}),
        ("one zero two thirty", {"speed": 102, "bank": 30}),
        ("sixty", {"speed": 60}),
        ("wings level", {"bank": 0}),
    ],
)
def test_numbers_are_told_apart_by_their_words_and_else_by_the_order_of_the_question(
    words: str, values: dict[Asked, float]
) -> None:
    assert at("90").parse(words) == Meaning(values=values)


@pytest.mark.parametrize(
    ("words", "pitch"),
    [
        ("pitch six below level", -6),
        ("nose down six", -6),
        ("six degrees", -6),
        ("six up", 6),
        ("on the horizon", 0),
    ],
)
def test_a_pitch_without_a_direction_has_the_direction_that_belongs_there(
    words: str, pitch: float
) -> None:
    assert at("135").parse(words) == Meaning(values={"pitch": pitch})


@pytest.mark.parametrize("asked", ASKED)
def test_whatever_is_asked_for_is_understood_as_the_coach_itself_says_it(asked: Asked) -> None:
    flight = flown("lazy-eight")
    moments = [replace(moment, asks=(asked,)) for moment in flight.moments]
    for index, moment in enumerate(moments):
        said = render(told(moment)[asked], values(flight, moment)).spoken.lower()
        meaning = answer(moments, index).parse(said)
        assert meaning is not None and {*meaning.values} == {asked}, said
        assert answer(moments, index).is_right(meaning), said


def test_fifty_one_is_one_number_though_both_would_be_two() -> None:
    flight = flown("lazy-eight")
    asks: tuple[Asked, ...] = ("speed", "pitch")
    moment = replace(flight.moments[0], asks=asks, ias_kt=51.0, pitch_deg=1.0)
    grammar = answer([moment], 0)
    assert grammar.parse("fifty one") == Meaning(values={"speed": 51})
    assert grammar.parse("fifty one one") == Meaning(values={"speed": 51, "pitch": 1})


def test_headings_are_said_digit_by_digit_and_nine_may_be_niner() -> None:
    for words in ("heading zero nine zero", "zero niner zero"):
        assert at("rolled out", "steep-turn-45").parse(words) == Meaning(values={"heading": 90})


def test_a_callout_is_a_name_numbers_or_both_or_an_order() -> None:
    grammar = at("180", called=True)
    assert grammar.parse("one eighty") == Meaning(("180",))
    assert grammar.parse("one thirty five") == Meaning(("135",))
    assert grammar.parse("one eight zero three thousand feet one hundred knots") == Meaning(
        ("180",), {"altitude": 3000, "speed": 100}
    )
    assert grammar.parse("coach go on") == Meaning(order="go on")
    assert grammar.parse("go on") is None


def test_every_name_in_the_library_can_be_said() -> None:
    assert name_wordings("level-off") == ("level off",)
    assert name_wordings("135") == ("one thirty five", "one three five", "one hundred thirty five")


@pytest.mark.parametrize("kind", ["answer", "callout"])
def test_everything_that_a_student_is_likely_to_say_is_in_its_grammar(kind: str) -> None:
    known = [*attempts(kind, 3)]
    assert len({attempt.grammar.jsgf for attempt in known}) > 3 * len(MANEUVERS)
    for attempt in known:
        said = attempt.grammar.parse(attempt.words.replace(",", ""))
        assert said is not None, attempt.words
        assert {one: abs(value) for one, value in said.values.items()} == {
            one: abs(value) for one, value in attempt.values.items()
        }
        assert said.names == ((attempt.moment.name,) if attempt.named else ())
        true = right(attempt.moment)
        assert attempt.right == {
            one: is_right(one, value, true[one]) for one, value in said.values.items()
        }


def test_fifty_is_not_expected_where_fifteen_is_right() -> None:
    assert at("45").parse("bank fifty") is None and at("45").parse("bank fifteen")
    assert at("90").parse("bank fifty") and at("90").parse("bank fifteen")


def test_what_is_further_off_is_less_likely_and_headings_go_the_short_way_round() -> None:
    assert likely("bank", 15, 15) == 1.0 > likely("bank", 20, 15) > likely("bank", 50, 15) > 0.0
    assert likely("heading", 350, 10) == likely("heading", 30, 10)
    assert is_right("heading", 355, 4) and not is_right("heading", 340, 4)


def test_the_part_without_a_mistake_has_the_right_numbers_the_right_side_and_the_due_name() -> None:
    part = at("90").only_right
    assert part.parse("sixty three knots bank thirty") and part.parse("bank twenty five")
    assert part.parse("bank twenty") is None and part.parse("eighty knots") is None
    part = at("135", called=True).only_right
    assert part.parse("one thirty five pitch six below level") and part.parse("coach pause")
    assert part.parse("pitch six up") is None and part.parse("one eighty") is None


def test_a_number_out_of_its_order_is_told_by_its_word() -> None:
    assert at("90").parse("thirty sixty three knots") is None
    assert at("90").parse("bank thirty sixty three knots") == Meaning(
        values={"speed": 63, "bank": 30}
    )
