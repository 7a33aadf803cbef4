"""Whatever lies where a script should is read or refused in one sentence, soon, and taken for data alone."""

import time
from pathlib import Path

import pytest

from coach.flight import flying, integration
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flying import MOST_S, Flyer
from coach.flight.plan import plan
from coach.flight.search import MOST_SEARCHED
from coach.problems import Problem
from coach.rehearsal.ready import fly
from coach.script import catalog
from coach.script.contents import LARGEST_KB, contents, loaded
from coach.script.faults import faults
from coach.script.maneuver import Maneuver
from coach.script.reading import parse
from coach.script.warmup import load as warmup
from tests.script.spoiled import lay

LAZY_EIGHT = catalog.find("maneuvers", "lazy-eight").read_text(encoding="utf-8")


def told(text: str) -> str:
    with pytest.raises(Problem) as problem:
        parse(text, Maneuver, faults, "mine.yaml")
    said = str(problem.value)
    assert said.isprintable()
    return said


def changed(old: str, new: str) -> str:
    assert old in LAZY_EIGHT
    return LAZY_EIGHT.replace(old, new, 1)


def values(text: str) -> object:
    return contents(text).values


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        ("2026-02-30", "unknown key 'extra'"),
        ("!!int zz", "found a tag (!!int): leave it out"),
        ("!<tag:x%1B[31m> zz", "found a tag (tag:x\ufffd[31m): leave it out"),
        ("9" * 5000, "found a text of 5,000 letters, expected at most 600"),
        ("1:59:59.9.9", "unknown key 'extra'"),
        ("&a [x, *a]", "found an alias (*a): write it out"),
        ('"\\U00110000"', "not valid YAML: a number in it cannot be"),
        ('"\\x1b[2J"', "found the character U+001B, which cannot be shown"),
        ("one\x07", "found the character U+0007, which cannot be shown"),
        ("{[a]: b}", "found a list or keys before a colon, expected a word"),
        ("[" * 300, "nested too deeply to be a script"),
        ("[" + "a, " * 5000 + "]", "more than 4,000 values: no script is so long"),
        ("b\n---\nc: d", "a second document begins here"),
    ],
)
def test_what_yaml_can_do_besides_data_names_its_line(extra: str, sentence: str) -> None:
    assert sentence in told(f"{LAZY_EIGHT}extra: {extra}\n")
    line = LAZY_EIGHT.count("\n") + 1 + extra.count("\n---")
    assert told(f"{LAZY_EIGHT}extra: {extra}\n").startswith(f"mine.yaml, line {line}: ")


def test_a_few_bytes_of_aliases_cost_nothing() -> None:
    levels = [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 9)}]\n" for n in range(1, 10)]
    bomb = "l0: &l0 [x, x, x, x, x, x, x, x, x]\n" + "".join(levels)
    began = time.process_time()
    assert told(bomb) == "mine.yaml, line 2: found an alias (*l0): write it out."
    assert time.process_time() - began < 0.5


def test_dates_times_and_words_stay_texts_and_numbers_are_those_of_yaml_1_2() -> None:
    text = "[2026-02-30, 1:59:59, 12:30, yes, Off, 045, 1_000, .inf, .nan, 1e999, 0x1f, '7']"
    assert values(text) == text.strip("[]").replace("'", "").split(", ")
    assert values("[7, -7, 0, 0.5, 1e3, true, FALSE, null, ~]") == [
        *(7, -7, 0, 0.5, 1000.0, True, False, None, None),
    ]  # fmt: skip
    assert values("<<: {a: 1}") == {"<<": {"a": 1}}


def test_texts_and_keys_are_kept_composed_on_one_line_and_without_what_shows_nothing() -> None:
    assert values('"a\u00a0key": "Cafe\u0301\\nau\u3164 \\u202elait"') == {
        "a key": "Caf\u00e9 au lait"
    }
    assert values("{name: one, na\u200dme: two}"[:11] + "}") == {"name": "one"}
    assert "'name' stands here a second time" in told("name: one\nna\u200dme: two\n")


def test_a_title_with_a_no_break_space_is_kept_as_one_with_a_space() -> None:
    title = parse(
        changed("title: Lazy eight", "title: Lazy\u00a0eight"), Maneuver, faults, ""
    ).title
    assert title == "Lazy eight"


def test_a_control_character_anywhere_is_told_with_its_line() -> None:
    said = told(changed("# The second pair", "# The \x1b[31msecond pair"))
    assert "found the character U+001B, which cannot be shown" in said
    assert "line 11: " in said


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("sides: [first, other, other, first]", f"sides: [{'first, ' * 1000}]", "sides: found 1,000 entries, expected at most 16"),
        ("  speed: [maneuvering, cruise]", f"  speed: [{'cruise, ' * 9}]", "speed: found 9 entries, expected at most 8"),
        ("loops: [1, 2, 3, 4]", f"loops: [{'1, ' * 17}]", "loops: found 17 entries, expected at most 16"),
        ("  - {what: speed, at: lowest", "  - {what: speed, at: lowest speed, is: entry, within: 1 kt}\n" * 20 + "  - {what: speed, at: lowest", "wishes: found 29 entries, expected at most 16"),
        ("callouts:\n", "callouts:\n" + "  - {at: {turned: 1 deg}, say: x}\n" * 61, "callouts: found 75 entries, expected at most 60"),
        ("unknowns:\n", "unknowns:\n" + "".join(f"  u{n}: {{from: 1 s, start: 1 s, to: 1 s}}\n" for n in range(12)), "unknowns: found 23 entries, expected at most 12"),
    ],
)  # fmt: skip
def test_no_list_is_longer_than_a_figure_needs(old: str, new: str, sentence: str) -> None:
    said = told(changed(old, new))
    assert sentence in said
    assert ", line " in said


def test_a_warm_up_of_hundreds_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    items = "  - {maneuver: traffic-pattern}\n" * 200
    path.write_text(f"warmup: long\ntitle: Long\nmaneuvers:\n{items}", encoding="utf-8")
    with pytest.raises(Problem, match="line 3: maneuvers: found 200 entries, expected at most 12"):
        warmup(str(path))


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("is: 45 deg, within: 1 deg", "is: 45 deg, within: 0 deg", "within: found 0 deg, expected more than 0"),
        ("is: entry, within: 20 ft", "is: entry, within: 0 ft", "within: found 0 ft, expected more than 0"),
        ("is: entry, within: 20 ft", "is: entry, within: -20 ft", "within: found -20 ft, expected more than 0"),
        ("is: entry, within: 20 ft", f"is: entry, within: {'9' * 400} ft", "within: found a number of 400 digits, expected one below 10,000,000"),
        ("is: entry, within: 20 ft", "is: entry, within: .inf ft", "found '.inf ft', expected a length"),
        ("between: [67 deg, 113 deg]", "between: [67 deg, 67 deg]", "between: found 67 deg and 67 deg, expected the lower one first"),
        ("between: [67 deg, 113 deg]", "between: [113 deg, 67 deg]", "expected the lower one first"),
        ("height: 3000 ft", "height: 30000000 ft", "height: found 30000000 ft, expected one below 10,000,000"),
        ("is: stall + 7.5 kt", "is: 99 stall", "found '99 stall', expected at most 10 stall"),
        ("bank: {to: 30 deg}", "bank: {to: .nan deg}", "to: found '.nan deg', expected an angle"),
        ("bank: {to: 30 deg}", "bank: {to: nan}", "to: found 'nan', expected an angle"),
        ("    lead: 5 s", "    lead: 5 min", "lead: found 5 min, expected 0 s to 60 s"),
        ("{name}. Let the", "{name:>999999999}. Let the", "found more than 'name' in its braces, expected '{name}'"),
        ("{name}. Let the", "{name!r}. Let the", "expected '{name}'"),
    ],
)  # fmt: skip
def test_no_number_can_break_the_physics(old: str, new: str, sentence: str) -> None:
    said = told(changed(old, new))
    assert sentence in said
    line = changed(old, new)[: LAZY_EIGHT.index(old)].count("\n") + 1
    assert f", line {line}: " in said or "phrasing" in said or "braces" in said


def script(legs: str, more: str = "") -> str:
    return (
        "maneuver: mine\ntitle: Mine\nentry: {speed: cruise, height: 3000 ft, power: as needed}\n"
        f"legs:\n{legs}\ncheckpoints:\n  - {{name: end, ends: leg 0}}\n{more}"
    )


def flown(text: str) -> str:
    """What is wrong with a flight, or an empty text; and at most so many seconds long."""
    maneuver, plane = parse(text, Maneuver, faults, "mine.yaml"), load("meadow-four")
    began = time.process_time()
    try:
        plan(maneuver, plane, conditions(Day(), maneuver, plane))
        said = ""
    except Problem as problem:
        said = str(problem)
    # Two seconds on a machine to itself; a busy one takes several times as long.
    assert time.process_time() - began < 10.0
    return said


LEVEL = "altitude: entry, speed: entry, power: as needed"


def test_a_leg_that_never_ends_is_given_up_after_so_many_steps() -> None:
    leg = f"  - {{name: leg 0, track: {{course: 0 deg}}, {LEVEL}, until: {{turned: 90 deg}}}}"
    assert "'leg 0' is not over after 40 minutes" in flown(script(leg))


def test_legs_that_are_over_but_together_take_too_long_are_given_up_as_well() -> None:
    legs = "\n".join(f"  - {{name: leg {n}, bank: {{to: 0 deg}}, time: 30 min}}" for n in range(3))
    assert MOST_S < 3 * 1800.0
    assert "'leg 1' is not over after 40 minutes" in flown(script(legs))


def test_a_search_ends_with_what_it_found_when_it_has_flown_enough(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    count = 12
    unknowns = "unknowns:\n" + "".join(
        f"  time {n}: {{from: 0.1 s, start: 20 s, to: 45 s}}\n" for n in range(count)
    )
    legs = "\n".join(
        f"  - {{name: leg {n}, turn: {{bank: 30 deg}}, {LEVEL}, time: time {n}}}"
        for n in range(count)
    )
    wishes = "wishes:\n" + "".join(
        f"  - {{what: speed, at: end, is: stall + {n} kt, within: 0.001 kt}}\n" for n in range(16)
    )
    steps = 0

    def counting(*given: object) -> object:
        nonlocal steps
        found = fly_a_stretch(*given)  # type: ignore[arg-type]
        steps += len(found[1])
        return found

    fly_a_stretch = integration.fly
    monkeypatch.setattr(flying, "fly", counting)
    assert "speed comes out at" in flown(script(legs, unknowns + wishes))
    assert steps < MOST_SEARCHED + MOST_S / 0.2


def test_numbers_that_run_away_are_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    for error in (OverflowError, ZeroDivisionError, ValueError, FloatingPointError):

        def away(*_: object, error: type[Exception] = error, **__: object) -> None:
            raise error

        monkeypatch.setattr(Flyer, "loop", away)
        with pytest.raises(Problem, match="the model's numbers run away"):
            fly("lazy-eight", "meadow-four", Day())


def test_a_file_that_is_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_bytes(b"# " + b"x" * LARGEST_KB * 1024)
    with pytest.raises(Problem, match="found a file of 65 KiB, expected at most 64 KiB"):
        catalog.maneuver(str(path))
    with path.open("wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(Problem, match="expected at most 64 KiB"):
        loaded(path)


@pytest.fixture
def own(home: Path) -> Path:
    """The student's own maneuvers, none of which can be used."""
    return lay(home)


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("a-folder", "this is a folder, expected a script."),
        ("a-link", "No such file or directory."),
        ("a-photo", "this is not a text file in UTF-8."),
        ("a-pipe", "this is no file that holds text, expected a script."),
        ("a-device", "this is no file that holds text, expected a script."),
    ],
)
def test_what_is_no_file_to_read_is_told_and_never_waited_for(
    own: Path, name: str, sentence: str
) -> None:
    for called in (name, str(own / f"{name}.yaml")):
        with pytest.raises(Problem) as problem:
            catalog.maneuver(called)
        assert str(problem.value).endswith(sentence)


@pytest.mark.parametrize("name", ["a\0b", "a\0b.yaml", "x" * 5000, "x" * 5000 + ".yaml", "", "."])
def test_a_name_that_no_file_can_have_is_told(name: str) -> None:
    with pytest.raises(Problem):
        catalog.maneuver(name)
