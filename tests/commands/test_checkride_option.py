"""The option that says which checkride is learned for."""

import json

import pytest
from click.shell_completion import ShellComplete
from click.testing import CliRunner

from coach.commands.cli import main


@pytest.mark.parametrize("command", [("brief", "lazy-eight"), ("next",)])
def test_a_checkride_that_is_none_gets_one_sentence_with_the_nearest(
    command: tuple[str, ...],
) -> None:
    got = CliRunner().invoke(main, [*command, "--for", "privat"])
    assert got.exit_code != 0
    said = got.output.strip().splitlines()
    assert len(said) == 1
    assert "'privat'; did you mean private?" in said[0]


def test_the_shell_completes_a_checkride() -> None:
    shell = ShellComplete(main, {}, "coach", "_COACH_COMPLETE")
    for begun, whole in (
        ("", ["private", "commercial", "instrument", "any"]),
        ("c", ["commercial"]),
    ):
        found = shell.get_completions(["brief", "lazy-eight", "--for"], begun)
        assert [one.value for one in found] == whole


@pytest.mark.parametrize(("checkride", "said"), [("private", True), ("commercial", False)])
def test_the_brief_says_in_a_line_where_the_checkride_does_not_ask_for_it(
    checkride: str, said: bool
) -> None:
    brief = ["brief", "steep-turn-50", "--for", checkride]
    told = "The private checkride does not ask for this; the commercial one does."
    lines = CliRunner().invoke(main, brief).output.splitlines()
    assert (told in [line.strip() for line in lines]) == said
    if said:
        below = next(line for line in lines[[*map(str.strip, lines)].index(told) + 1 :] if line)
        assert below.startswith("Standard (commercial checkride")
    values = json.loads(CliRunner().invoke(main, [*brief, "--json"]).output)
    assert values["not_asked"] == (told if said else "")
