"""Promises of the grammars: what may be said at a place, and what it means."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.callouts.said import told
from coach.callouts.wording import render, values
from coach.ears.figures import likely
from coach.ears.grammar import Grammar, Meaning, answer, callout
from coach.ears.names import name_wordings
from coach.flight.asked import is_right, right
from coach.script.asked import ASKED, Asked
from tests.callouts.flown import flown

from .attempts import MANEUVERS, attempts
from .pilots import PILOTS, PRACTICE, Way
from .sentences import has, sentences


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
    assert name_wordings("level-off") == ("level off", "leveling off")
    assert name_wordings("fix") == ("fix",)
    assert {*name_wordings("turn base")} == {"turn base", "turning base", "base turn"}
    assert name_wordings("135")[0] == "one thirty five"
    assert {"one three five", "one hundred and thirty five"} < {*name_wordings("135")}


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


def test_numbers_in_any_order_go_by_their_plausibility() -> None:
    both = Meaning(values={"speed": 63, "bank": 30})
    assert at("90").parse("thirty sixty three knots") == both
    assert at("90").parse("thirty sixty three") == both
    assert at("90").parse("thirty") == Meaning(values={"bank": 30})


@pytest.mark.parametrize("way", PILOTS, ids=lambda way: way.words)
def test_every_collected_way_of_pilots_means_exactly_what_they_mean_by_it(way: Way) -> None:
    names = (way.name,) if way.name else ()
    assert way.grammar.parse(way.words) == Meaning(names, way.means)
    assert has(way.grammar, way.words)


@pytest.mark.parametrize("way", PILOTS, ids=lambda way: way.words)
def test_what_is_wrong_is_not_in_the_part_without_a_mistake(way: Way) -> None:
    said = way.grammar.only_right.parse(way.words)
    assert said is None or way.grammar.is_right(said)


def test_the_collected_ways_are_many_and_say_where_they_are_from() -> None:
    assert len({(way.words, *way.right.items(), way.name) for way in PILOTS}) == len(PILOTS) > 250
    assert sum(way.source != PRACTICE for way in PILOTS) > 50


def test_a_checkpoint_may_be_called_by_the_reference_that_the_nose_points_at() -> None:
    flight = flown("lazy-eight")
    seen = [flight.reference_ahead(moment.time_s) for moment in flight.moments]
    first, other = (callout(flight.moments, index, seen) for index in (0, 4))
    assert first.parse("first reference") == other.parse("third reference") == Meaning(("45",))
    assert first.parse("third reference") == other.parse("first reference") == Meaning(("135",))
    assert first.parse("at the middle reference sixteen up") == Meaning(("90",), {"pitch": 16})
    assert first.only_right.parse("first reference") and not first.only_right.parse("line behind")


def test_two_readings_of_which_one_is_right_are_that_one() -> None:
    right = Way("", {}, {"speed": 102.0, "bank": 30.0}, PRACTICE)
    assert right.grammar.parse("one hundred and thirty") == Meaning(
        values={"speed": 100, "bank": 30}
    )
    alone = Way("", {}, {"speed": 128.0}, PRACTICE)
    assert alone.grammar.parse("one hundred and thirty") == Meaning(values={"speed": 130})


def test_a_mistake_that_may_be_one_in_either_of_two_numbers_is_none() -> None:
    assert at("90").parse("fifty") is None
    assert at("90").parse("fifty right") == Meaning(values={"bank": 50})
    assert at("90").parse("fifty forty") == Meaning(values={"speed": 50, "bank": 40})


@pytest.mark.parametrize(
    "words", ["sixty fifty sixty three", "sixty three no", "ten up ten below", "uh", "", "no"]
)
def test_what_contradicts_itself_or_is_no_sentence_means_nothing(words: str) -> None:
    place = Way("", {}, {"pitch": 10.0, "speed": 63.0}, PRACTICE)
    assert place.grammar.parse(words) is None


GRAMMARS = list(
    {
        grammar.jsgf: grammar
        for one in (
            *(attempt.grammar for kind in ("answer", "callout") for attempt in attempts(kind, 3)),
            *(way.grammar for way in PILOTS),
        )
        for grammar in (one, one.plain, one.only_right)
    }.values()
)


def mistakes(grammar: Grammar, said: Meaning) -> int:
    wrong = sum(
        not is_right(one, value, grammar.expected[one]) for one, value in said.values.items()
    )
    return wrong + sum(name != grammar.due for name in said.names)


@given(data=st.data())
def test_every_sentence_of_a_grammar_means_what_it_was_made_for_or_something_no_worse(
    data: st.DataObject,
) -> None:
    grammar = data.draw(st.sampled_from(GRAMMARS))
    words, made = data.draw(sentences(grammar))
    said = grammar.parse(words)
    if said is None:
        assert mistakes(grammar, made)
        return
    assert said.order == made.order
    assert mistakes(grammar, said) <= mistakes(grammar, made)
    assert {*words.split()} <= grammar.words


def test_a_grammar_comes_back_from_its_line_of_text() -> None:
    for grammar in GRAMMARS[::7]:
        back = Grammar.from_json(grammar.to_json())
        assert back.jsgf == grammar.jsgf and back.only_right.jsgf == grammar.only_right.jsgf
        assert pickle.loads(pickle.dumps(grammar)).jsgf == grammar.jsgf


def test_the_plain_part_has_no_fillers_and_nothing_that_the_whole_has_not() -> None:
    whole = at("90", called=True)
    assert whole.plain.words < whole.words
    assert not {"uh", "about", "correction"} & whole.plain.words
    assert {"knots", "bank", "right", "hundred", "and"} < whole.plain.words
