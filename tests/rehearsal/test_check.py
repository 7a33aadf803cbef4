"""Scripts of one's own: begun from a template, checked, described to an editor, and in the README."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result

from coach.commands.cli import main
from coach.problems import Problem
from coach.rehearsal.check import KINDS
from coach.script.catalog import find, names
from coach.script.template import Kind, begin
from tests.script.test_schema import refused

README = Path(__file__).parents[2] / "README.md"
SHIPPED = [
    (kind, name) for kind, shelf in zip(KINDS, ("maneuvers", "airplanes"), strict=True)
    for name in names(shelf)
]  # fmt: skip

Coach = Callable[..., Result]


@pytest.fixture
def coach(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Coach:
    """The command, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return lambda *words: CliRunner().invoke(main, words)


def test_a_script_at_fault_does_not_hide_the_library(coach: Coach) -> None:
    coach("new", "maneuver", "half-done")
    path = find("maneuvers", "half-done")
    path.write_text(path.read_text(encoding="utf-8").replace("legs:", "lags:"), encoding="utf-8")
    listed = coach("library").output
    assert "half-done" in listed
    assert "unknown key 'lags'; did you mean legs?" in listed
    assert "Lazy eight" in listed


def test_what_a_system_puts_beside_a_copied_script_is_no_script(coach: Coach) -> None:
    coach("new", "maneuver", "mine")
    mine = find("maneuvers", "mine")
    mine.with_name("._mine.yaml").write_bytes(b"\x00\x05")
    assert "mine" in names("maneuvers") and "._mine" not in names("maneuvers")


@pytest.mark.parametrize("name", ["", "..", ".yaml", "-"])
def test_a_name_that_is_none_is_refused(coach: Coach, name: str) -> None:
    told = coach("new", "maneuver", "--", name)
    assert told.output == f"Error: Found the name '{name}', expected one such as my-maneuver.\n"


def test_one_kind_of_script_in_place_of_another_is_said_so(coach: Coach) -> None:
    coach("new", "airplane", "mine.yaml")
    told = coach("brief", "mine.yaml").output
    assert "found a script that begins 'airplane:', expected 'maneuver:'" in told


def text_of(kind: str, name: str) -> str:
    return find(f"{kind}s", name).read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_script_works_as_it_stands(coach: Coach, kind: Kind) -> None:
    assert coach("new", kind, "Our own.yaml").exit_code == 0
    checked = coach("check", "Our own.yaml")
    assert checked.exit_code == 0, checked.output
    assert f"{kind}, fit to fly" in checked.output
    written = Path("Our own.yaml").read_text(encoding="utf-8")
    assert yaml.safe_load(written)[kind] == "our-own"
    assert written.count("#") > 10
    words = ["Our own.yaml"] if kind == "maneuver" else ["lazy-eight", "--airplane", "Our own.yaml"]
    briefed = coach("brief", *words)
    assert briefed.exit_code == 0, briefed.output
    assert "Not quite" not in briefed.output


def test_a_bare_name_goes_where_the_library_finds_it(coach: Coach) -> None:
    assert coach("new", "airplane", "my-plane").exit_code == 0
    assert "my-plane" in coach("library").output
    assert coach("check", "my-plane").exit_code == 0


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_that_is_there_is_never_overwritten(tmp_path: Path, kind: Kind) -> None:
    mine = tmp_path / "mine.yaml"
    mine.write_text("hours of work", encoding="utf-8")
    with pytest.raises(Problem, match="is there already"):
        begin(kind, str(mine))
    assert mine.read_text(encoding="utf-8") == "hours of work"
    with pytest.raises(Problem, match="cannot be written"):
        begin(kind, str(tmp_path / "no such folder" / "mine.yaml"))


def test_check_tells_every_file_s_fault_in_one_line_and_its_exit_status(coach: Coach) -> None:
    good = text_of("maneuver", "lazy-eight")
    scripts = {
        "good.yaml": good,
        "key.yaml": good.replace("bank: {to: 15 deg", "bnak: {to: 15 deg", 1),
        "stall.yaml": text_of("airplane", "meadow-four").replace("stall: 52 kt", "stall: 20 kt"),
        "swift.yaml": text_of("airplane", "meadow-four").replace(
            "maneuvering: 102", "maneuvering: 199"
        ),
        "red.yaml": text_of("airplane", "meadow-four").replace(
            "never exceed: 158", "never exceed: 98"
        ),
        "cruise.yaml": text_of("airplane", "meadow-four").replace("speed: 118", "speed: 170"),
        "song.yaml": "song: 3\n",
        "broken.yaml": "maneuver: [1\n",
        "empty.yaml": "",
        "steep.yaml": good.replace("is: stall + 7.5 kt", "is: stall + 60 kt"),
    }
    for name, text in scripts.items():
        Path(name).write_text(text, encoding="utf-8")
    result = coach("check", *scripts, "missing.yaml")
    lines = [" ".join(line.split()) for line in result.output.splitlines()]
    assert result.exit_code == 1
    assert len(lines) == len(scripts) + 1
    assert lines[0] == "good.yaml: a maneuver, fit to fly"
    for line, part in zip(
        lines[1:],
        (
            ": unknown key 'bnak'; did you mean bank?",
            "stall.yaml, line 14: stall: found 20 kt, expected 25 kt to 90 kt.",
            "swift.yaml, line 15: maneuvering must be at most 2.5 times the stall speed; are both indicated, and at gross weight?",
            "red.yaml, line 17: never exceed must be faster than maneuvering.",
            "cruise.yaml: Meadow Four, four-seat trainer: cruise and glide do not agree: 170 kt at 75% is too fast",
            "song.yaml: expected 'maneuver:', 'airplane:' or 'warmup:' as the first key.",
            "broken.yaml, line",
            "empty.yaml",
            "steep.yaml: Meadow Four, four-seat trainer cannot fly this",
            "missing.yaml: No such file",
        ),
        strict=True,
    ):
        assert part in line
    assert coach("check", "good.yaml").exit_code == 0


def test_check_remarks_on_what_is_never_reached_too_close_or_too_low(coach: Coach) -> None:
    coach("new", "maneuver", "mine.yaml")
    right = Path("mine.yaml").read_text(encoding="utf-8")
    assert coach("check", "mine.yaml").output == "mine.yaml: a maneuver, fit to fly\n"
    for old, new, remark in (
        ("turned: 180 deg", "turned: 400 deg", "The checkpoint 'halfway' is never reached, and"),
        ("turned: 50 deg", "turned: 445 deg", "'Bank {bank}. {altitude}.' is never said"),
        ("turned: 180 deg", "turned: 356 deg", "'halfway' and 'rolled out' come"),
        ("height: 3000 ft", "height: 1000 ft", "The maneuver goes down to 990 feet above"),
    ):
        assert old in right
        Path("mine.yaml").write_text(right.replace(old, new), encoding="utf-8")
        checked = coach("check", "mine.yaml")
        assert checked.exit_code == 0
        first, *others = checked.output.split("look at this:")[1].strip().splitlines()
        assert first.startswith(remark)
        # What has moved may have no room any more, and that is told as well.
        assert all(line.strip().startswith("With ") for line in others if line[2] != " ")


def test_check_tells_what_there_is_no_room_to_say(coach: Coach) -> None:
    coach("new", "maneuver", "mine.yaml")
    right = Path("mine.yaml").read_text(encoding="utf-8")
    more = "callouts:\n" + "".join(
        f'  - {{at: {{leg: the turn, share: 50 %}}, say: "One long sentence number {n}."}}\n'
        for n in range(9)
    )
    Path("mine.yaml").write_text(right.replace("callouts:\n", more, 1), encoding="utf-8")
    told = " ".join(coach("check", "mine.yaml").output.split())
    assert "With everything said, loop 1, the turn: no room for “One long sentence number" in told


@pytest.mark.parametrize("name", names("airplanes"))
def test_an_airplane_s_check_shows_its_handbook_numbers_again(coach: Coach, name: str) -> None:
    given = yaml.safe_load(text_of("airplane", name))
    shown = coach("check", name).output

    def row(label: str) -> str:
        return next(line.split(label)[1] for line in shown.splitlines() if label in line)

    def knots(written: str) -> str:
        return written.removesuffix(" kt")

    assert knots(given["speeds"]["stall"]) == row("stall, wings level").split()[0]
    assert knots(given["speeds"]["maneuvering"]) == row(" maneuvering").split()[0]
    assert (
        knots(given["speeds"]["best glide"]) == row("best glide, propeller windmilling").split()[0]
    )
    assert float(given["glide ratio"]) == float(row("its ratio").split()[0])
    assert row("75 %, true (indicated)").split()[2] == knots(given["cruise"]["speed"])
    for part in ("60° of bank", "full throttle", "best climb", "polar", "windmilling", "sea level"):
        assert part in shown


def test_an_airplane_that_is_hardly_meant_can_be_flown_and_its_check_asks(coach: Coach) -> None:
    slip = text_of("airplane", "meadow-four").replace("stall: 52 kt", "stall: 44 kt")
    Path("mine.yaml").write_text(slip, encoding="utf-8")
    checked = coach("check", "mine.yaml")
    first, second = checked.output.splitlines()[:2]
    assert checked.exit_code == 0
    assert first == "mine.yaml: an airplane, can be flown; look at this:"
    assert second.startswith("  A stall at 44 kt takes a greatest lift coefficient of 2.23")
    assert second.endswith("your stall speed looks like the one with flaps.")


def test_an_airplane_that_contradicts_itself_is_refused_wherever_it_is_met(coach: Coach) -> None:
    coach("new", "airplane", "mine")
    mine = find("airplanes", "mine")
    mine.write_text(
        mine.read_text(encoding="utf-8").replace("glide ratio: 9.1", "glide ratio: 20"), "utf-8"
    )
    refused = "cruise and glide do not agree: 113 kt at 75% is too slow for an airplane that glides"
    for words in (["check", "mine"], ["brief", "lazy-eight", "--airplane", "mine"], ["library"]):
        told = " ".join(coach(*words).output.split())
        assert refused in told, words
    assert "Meadow Four" in coach("library").output


def test_a_propeller_that_the_file_does_not_tell_of_is_said_to_be_a_usual_one(coach: Coach) -> None:
    whole = text_of("airplane", "meadow-four")
    given = " ".join(coach("check", "meadow-four").output.split())
    bare = re.sub(r"(?m)^climb: .*\n", "", whole.replace(", revolutions: 2500 rpm", ""))
    Path("mine.yaml").write_text(bare, encoding="utf-8")
    checked = coach("check", "mine.yaml").output
    assert checked.startswith("mine.yaml: an airplane, fit to fly")
    for told in (
        "its revolutions are a guess, as the cruise row gives none",
        "as rated, by a usual propeller, as the file gives no climb",
    ):
        assert told in " ".join(checked.split())
        assert told not in given


def test_the_readme_s_ten_lines_are_a_whole_maneuver(coach: Coach) -> None:
    readme = README.read_text(encoding="utf-8")
    found = re.search(r"<!-- (\S+\.yaml) -->\n```yaml\n(.*?)```\n\n```text\n(.*?)```", readme, re.S)
    assert found
    file, script, shown = found.groups()
    assert len(script.splitlines()) == 10
    Path(file).write_text(script, encoding="utf-8")
    outputs = []
    for line in shown.splitlines():
        if line.startswith("$ coach "):
            result = coach(*line.removeprefix("$ coach ").split())
            assert result.exit_code == 0, result.output
            outputs.append(result.output)
        elif line != "...":
            # The last digits may move with the model, the page may not.
            printed = [re.sub(r"\d", "0", one.rstrip()) for one in outputs[-1].splitlines()]
            assert re.sub(r"\d", "0", line.rstrip()) in printed
    assert len(outputs) == 2
    assert not refused("maneuver", script)
    wrong = Path("wrong.yaml")
    wrong.write_text(script.replace("turn: {bank", "trun: {bank"), encoding="utf-8")
    assert coach("check", "wrong.yaml").output.strip() in readme
