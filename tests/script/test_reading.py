"""A script that cannot be used is answered by one sentence with its file and line."""

import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.problems import Problem
from coach.script import catalog
from coach.script.faults import faults
from coach.script.maneuver import Maneuver
from coach.script.reading import parse

LAZY_EIGHT = catalog.find("maneuvers", "lazy-eight").read_text(encoding="utf-8")


def told(text: str) -> str:
    with pytest.raises(Problem) as problem:
        parse(text, Maneuver, faults, "mine.yaml")
    return str(problem.value)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_the_shipped_script_is_read_whole() -> None:
    maneuver = parse(LAZY_EIGHT, Maneuver, faults, "mine.yaml")
    assert maneuver.legs[0].name == "climbing, bank building"
    assert maneuver.loop_sides(None, 1) == [1, -1, -1, 1]


def test_a_list_of_one_may_be_written_as_that_one() -> None:
    one = LAZY_EIGHT.replace("speed: [maneuvering, cruise]", "speed: cruise")
    listed = LAZY_EIGHT.replace("speed: [maneuvering, cruise]", "speed: [cruise]")
    assert one != LAZY_EIGHT
    assert parse(one, Maneuver, faults, "") == parse(listed, Maneuver, faults, "")


@pytest.mark.parametrize(
    ("old", "new", "at", "sentence"),
    [
        ("bank: {to: 15 deg", "bnak: {to: 15 deg", "bnak", "unknown key 'bnak'; did you mean bank?"),
        ("height: 3000 ft", "height: 3000", "height:", "found 3000 without a unit, expected a length"),
        ("height: 3000 ft", "height: 3000 kt", "height:", "found 3000 with the unit 'kt'"),
        ("height: 3000 ft", "height: pivotel", "height:", "found 'pivotel'; did you mean pivotal?"),
        ("height: 3000 ft", "height: start", "height:", "expected a height above the ground, or 'pivotal'"),
        ("at: lowest speed, is", "at: lowest speed, since: \"46\", is", "since:", "no moment '46'"),
        ("wind: across", "wind: sideways", "wind:", "found 'sideways'"),
        ("ends: \"climbing, bank building\"", "ends: climbing", "ends: climbing", "no leg 'climbing'"),
        ("at: lowest speed, is", "at: slowest speed, is", "at: slowest", "did you mean lowest speed?"),
        ("is: stall + 7.5 kt", "is: stall + 7.5 ft", "is: stall + 7.5 ft", "expected a speed"),
        ("time: time to 90", "time: time too 90", "time: time too", "did you mean time to 90?"),
        ("time: time to 90", "time: 4000 s", "time: 4000 s", "expected 0.1 s to 30 min"),
        ("bank: {to: 30 deg}", "bank: {to: 80 deg}", "bank: {to: 80 deg}", "found 80 deg, expected no more than 68 deg"),
        ("halfway: pitch halfway to 45}", "halfway: pitch halfway to 45, steady: true}", "    pitch: {to: highest", "pitch: give either halfway or steady, not both"),
        ("halfway: pitch halfway to 45", "halfway: pitch halfway to 46", "halfway: pitch halfway to 46", "did you mean pitch halfway to 45?"),
        ("speed: [maneuvering, cruise]", "speed: [manuvering, cruise]", "speed: [manuv", "speed: found 'manuvering'; did you mean maneuvering?"),
        ("{rudder}.", "{ruder}.", "{ruder}", "found '{ruder}' in a phrasing; did you mean rudder?"),
        ("at: {checkpoint: \"45\"}", "at: {checkpoint: \"46\"}", "46", "no checkpoint '46'"),
        ("  power: {from: 10 %, ", "  power: {from: 60 %, ", "  power: {from", "from <= start <= to"),
        ("title: Lazy eight", "title: Lazy eight\ntitle: Again", "title: Again", "a second time"),
        ("legs:\n", "legs: []\nlegz:\n", "legz", "unknown key 'legz'; did you mean legs?"),
        ("time to 45: {from: 5 s", "time to 45: {from: -5 s", "time to 45: {from", "from: found -5 s, expected 0.1 s"),
        ("ends: \"nose falling, bank to steepest\"", "ends: nose falling", "ends: nose falling", "no leg 'nose falling'"),
        ("share: 13 %", "share: 130 %", "share: 130", "share: found 130 %, expected at most 100 %"),
        ("loops: [last]", "loops: [lost]", "loops: [lost]", "loops: found 'lost'"),
        ("sides: [first", "sides: [frist", "sides:", "found 'frist'; did you mean first?"),
        ("maneuver: lazy-eight", "maneuver: Lazy Eight", "maneuver: Lazy", "expected small letters, digits and hyphens"),
        ("sides: [first, other, other, first]", "sides: first", "sides: first", "found 'first', expected a list: [one, two]"),
        ("  power: {from: 10 %, ", "  9 power: {from: 10 %, ", "  9 power", "found '9 power', expected a name that begins with a letter"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_line(old: str, new: str, at: str, sentence: str) -> None:
    text = LAZY_EIGHT.replace(old, new, 1)
    assert text != LAZY_EIGHT
    said = told(text)
    assert sentence in said
    assert said.startswith(f"mine.yaml, line {line_of(text, at)}: ")
    assert "\n" not in said


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        ("title: Lazy eight", "title: Lazy: eight", "title: Lazy:", "a second colon: put a text that has one in quotes"),
        ("title: Lazy eight", "title Lazy eight", "title Lazy", "a key without its colon"),
        ("  height: 3000 ft", "\theight: 3000 ft", "\theight", "a tab: indent with spaces"),
        ("  height: 3000 ft", "   height: 3000 ft", "   height", "does not line up"),
        ("[maneuvering, cruise]", "[maneuvering, cruise", "[maneuvering", "a bracket [ that is not closed"),
        ("bank: {to: 15 deg, ", "bank: {to: 15 deg ", "bank: {to: 15 deg ", "a comma that is missing"),
    ],
)  # fmt: skip
def test_a_slip_of_the_pen_is_told_where_it_was_made(
    old: str, new: str, at: str, words: str
) -> None:
    text = LAZY_EIGHT.replace(old, new, 1)
    assert text != LAZY_EIGHT
    said = told(text)
    assert said.startswith(f"mine.yaml, line {line_of(text, at)}: ")
    assert words in said
    assert "\n" not in said


def test_the_only_entry_of_a_list_is_told_to_be_wrong_not_to_be_missing() -> None:
    before = LAZY_EIGHT.index("callouts:")
    only = (
        LAZY_EIGHT[:before] + "callouts:\n  - at: {checkpoint: '45'}\n    say:\n      - '{sped}.'\n"
    )
    assert "did you mean speed?" in told(only)
    assert f"line {line_of(only, '{sped}')}: " in told(only)
    assert "at least one entry" in told(only.replace("\n      - '{sped}.'", " []"))


def test_a_quote_that_is_not_closed_is_told_where_it_opens() -> None:
    said = told('maneuver: mine\ntitle: "Mine\nlegs: none\n')
    assert said == "mine.yaml, line 2: a quote that is not closed."


def test_a_missing_part_is_named() -> None:
    without = re.sub(r"legs:\n(  .*\n)+", "", LAZY_EIGHT, count=1)
    assert "the key 'legs' is missing" in told(without)


@pytest.mark.parametrize(
    "text", ["", "- a list\n", "42", "a: [1, 2", "\t", "a: *nowhere", "a: !!python/x 1"]
)
def test_what_is_no_script_at_all_is_told_in_one_sentence(text: str) -> None:
    said = told(text)
    assert said.startswith("mine.yaml")
    assert "\n" not in said


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    binary = tmp_path / "photo.yaml"
    binary.write_bytes(b"\xff\xfe\x00\x80")
    for path, words in ((binary, "not a text file"), (tmp_path / "none.yaml", "No such file")):
        with pytest.raises(Problem, match=words):
            catalog.maneuver(str(path))


def test_an_unknown_name_offers_the_nearest() -> None:
    with pytest.raises(Problem, match=r"no maneuver 'lazy-ate'; did you mean lazy-eight\?"):
        catalog.maneuver("lazy-ate")


def test_the_beginning_of_several_names_offers_them_all() -> None:
    with pytest.raises(Problem, match="did you mean steep-turn-45 or steep-turn-50"):
        catalog.find("maneuvers", "steep-turn")


@pytest.mark.parametrize("word", ["on", "off", "yes", "no", "On"])
def test_a_leg_may_have_a_name_that_some_take_for_a_truth_value(word: str) -> None:
    text = re.sub('"?climbing, bank building"?', word, LAZY_EIGHT)
    assert parse(text, Maneuver, faults, "mine.yaml").legs[0].name == word


def test_a_maneuver_is_found_by_its_title_too() -> None:
    for name in ("Lazy eight", "lazy  eight", "LAZY-EIGHT"):
        assert catalog.find("maneuvers", name) == catalog.find("maneuvers", "lazy-eight")


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_damaged_script_is_read_or_told_and_never_crashes(seed: int) -> None:
    dice = random.Random(seed)
    lines = LAZY_EIGHT.splitlines()
    for _ in range(dice.randint(1, 3)):
        at = dice.randrange(len(lines))
        match dice.randrange(4):
            case 0:
                del lines[at]
            case 1:
                lines[at] = lines[at].replace(dice.choice("abcdeg1"), dice.choice("xyz: [{9-"), 1)
            case 2:
                lines.insert(at, dice.choice(lines))
            case _:
                lines[at] = "  " + lines[at]
    try:
        parse("\n".join(lines), Maneuver, faults, "mine.yaml")
    except Problem as problem:
        assert "\n" not in str(problem)
