import pytest

from coach.callouts.cuesheet import Phrase
from coach.callouts.wording import render, say_heading, say_number, say_rudder, say_turned


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0, "zero"),
        (15, "fifteen"),
        (61, "sixty one"),
        (100, "one hundred"),
        (4830, "four thousand eight hundred thirty"),
        (12500, "twelve thousand five hundred"),
        (-7, "minus seven"),
    ],
)
def test_numbers_are_said_as_pilots_say_them(value: int, words: str) -> None:
    # Common practice, no source.
    assert say_number(value) == words


def test_headings_are_said_digit_by_digit_and_north_is_360() -> None:
    # Common practice, no source.
    assert say_heading(45.2) == Phrase("045", "zero four five")
    assert say_heading(359.9) == Phrase("360", "three six zero")


def test_checkpoints_are_named_as_on_the_board() -> None:
    assert [say_turned(name) for name in ("45", "135", "180", "top")] == [
        "forty five",
        "one thirty five",
        "one eighty",
        "top",
    ]


def test_rudder_is_said_with_side_and_size() -> None:
    sizes = [say_rudder(index) for index in (0.01, 0.2, -0.4, 0.9)]
    assert sizes == [
        "rudder neutral",
        "a touch of right rudder",
        "left rudder",
        "more right rudder",
    ]


def test_sentences_begin_with_a_capital_letter() -> None:
    known = {"rudder": Phrase("right rudder", "right rudder")}
    assert render("{rudder}. now level", known).text == "Right rudder. Now level"
