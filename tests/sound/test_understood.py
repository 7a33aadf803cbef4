"""Promises of the measure of how well the coach is understood."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.callouts.figures import say_heading, say_number, say_turned
from tests.bench.word_errors import Score, errors, interval, normalised, rate, score


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("Bank thirty, nose falling.", "bank 30 nose falling"),
        ("One thirty five. Lowest pitch.", "135 lowest pitch"),
        ("Two seventy. One hundred two knots.", "270 102 kt."),
        ("Heading zero niner zero.", "Heading 090"),
        ("Twenty one hundred RPM.", "2,100 r.p.m."),
        ("Ninety. Three thousand five hundred feet.", "90, 3500 ft"),
        ("Level-off, power fifty six percent.", "Level off power 56%"),
        ("It's half way.", "Its halfway"),
        ("Nose down, roll right.", "Knows down role write"),
        ("Chandelle to the right.", "Shun Dell to the right"),
    ],
)
def test_what_only_is_written_otherwise_is_no_error(said: str, written: str) -> None:
    assert score(said, written).errors == 0


@given(value=st.integers(0, 99_999))
def test_every_number_is_the_same_in_words_and_in_figures(value: int) -> None:
    assert normalised(say_number(value)) == normalised(f"{value}") == normalised(f"{value:,}")


@given(value=st.integers(0, 999))
def test_a_turn_and_a_heading_are_the_same_in_words_and_in_figures(value: int) -> None:
    assert normalised(say_turned(value)) == normalised(str(value))
    heading = say_heading(value % 360)
    assert normalised(heading.spoken) == normalised(heading.text)


def test_words_replaced_left_out_and_added_are_counted_once_each() -> None:
    assert errors("more right rudder".split(), "more left rudder".split()) == 1
    assert errors("more right rudder".split(), "more rudder".split()) == 1
    assert errors("more right rudder".split(), "more right rudder now".split()) == 1
    assert errors("bank fifty".split(), "bank fifteen".split()) == 1
    assert score("Steepen.", "13. 13. 13. 13.") == Score(1, 1)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(3, 9)), min_size=5, max_size=40))
def test_the_interval_holds_the_rate(counts: list[tuple[int, int]]) -> None:
    scores = [Score(*count) for count in counts]
    low, high = interval(scores)
    assert 0.0 <= low <= high <= 1.0
    assert low - 0.02 <= rate(scores) <= high + 0.02


def test_the_interval_is_that_of_a_proportion() -> None:
    # A hundred words of which a fifth are errors: 0.2 plus and minus 1.96 sqrt(0.2 0.8 / 100).
    low, high = interval([Score(1, 1)] * 20 + [Score(0, 1)] * 80, draws=20_000)
    assert [low, high] == pytest.approx([0.12, 0.28], abs=0.015)
    assert not np.isclose(low, high)
