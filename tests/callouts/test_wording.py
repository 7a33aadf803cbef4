"""Numbers and names as pilots say them."""

import re
from string import Formatter

import pytest

from coach.callouts.controls import say_rudder
from coach.callouts.cuesheet import Phrase
from coach.callouts.figures import say_heading, say_niner, say_number, say_turned, spoken_out
from coach.callouts.wording import render
from coach.script.catalog import maneuver
from coach.shelf import shipped

SCRIPTS = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))


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


def test_a_turn_is_named_as_on_the_board() -> None:
    # Common practice, no source.
    assert [say_turned(value) for value in (45, 105, 135, 180, 200, 450)] == [
        "forty five",
        "one zero five",
        "one thirty five",
        "one eighty",
        "two hundred",
        "four fifty",
    ]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("Power-off 180.", "Power-off one eighty."),
        ("Climb 1,000 feet.", "Climb one thousand feet."),
        ("Through more than 90.", "Through more than ninety."),
        ("Not above 120 kt, 500 ft/min.", "Not above one hundred twenty knots, five hundred feet a minute."),
        ("Bank 30°, power 65 %.", "Bank thirty degrees, power sixty five percent."),
        ("Heading 270, runway 27, turn 090.", "Heading two seven zero, runway two seven, turn zero nine zero."),
        ("5 to 10 kt, 1.3 times the stall.", "five to ten knots, one point three times the stall."),
        ("Pitch -5, 10-15 s.", "Pitch minus five, ten-fifteen seconds."),
        ("Leave the 2nd c182 alone, and 1234567.", "Leave the 2nd c182 alone, and 1234567."),
        ("Keep left, soft feet.", "Keep left, soft feet."),
        ("Groundspeed 86 kt.", "Ground speed eighty six knots."),
    ],
)  # fmt: skip
def test_figures_and_abbreviations_are_spoken_out(written: str, words: str) -> None:
    # Common practice, no source.
    assert spoken_out(written) == words


@pytest.mark.parametrize("name", SCRIPTS)
def test_no_script_has_words_that_a_voice_would_misread(name: str) -> None:
    script = maneuver(name)
    said = [*script.introduction, *(one for callout in script.callouts for one in callout.say)]
    said += [script.title, *(one.name for one in script.checkpoints)]
    for phrasing in said:
        words = "".join(spoken_out(literal) for literal, *_ in Formatter().parse(phrasing))
        assert not re.search(r"[0-9°%/&+]|\b(kt|ft|fpm|deg|nm|rpm|AGL|MSL|IAS)\b", words), words


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


def test_the_name_of_a_checkpoint_lands_wherever_it_stands() -> None:
    known = {"name": Phrase("90", "ninety"), "bank": Phrase("30°", "thirty")}
    assert render("{name}. Bank {bank}.", known, landing=True).lands == "Ninety"
    assert render("Bank {bank} at {name}, now.", known, landing=True).lands == "ninety"
    assert render("Bank {bank}.", known, landing=True).lands == ""
    assert render("{name}.", known).lands == ""


def test_nine_becomes_niner_in_what_is_spoken_and_in_nothing_else() -> None:
    # ICAO Annex 10 volume II, 5.2.1.4; FAA AIM 4-2-8 (from memory).
    said = say_niner(Phrase("Nine, 39, 90.", "Nine, thirty nine, ninety.", "Nine"))
    assert said == Phrase("Nine, 39, 90.", "Niner, thirty niner, ninety.", "Niner")
