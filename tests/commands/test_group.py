"""Promises of the table of commands: it says of each what the command says of itself."""

from __future__ import annotations

import subprocess
import sys

import pytest

from coach.commands.cli import COMMANDS, main
from coach.commands.group import load


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_says_of_a_command_how_its_own_help_begins(name: str) -> None:
    command = load(name)
    listed = main.commands[name]
    assert command.help is not None
    assert " ".join(command.help.split("\n\n")[0].split()) == COMMANDS[name]
    for width in (30, 45, 72, 150):
        assert listed.get_short_help_str(width) == command.get_short_help_str(width)


def test_to_list_the_commands_nothing_is_loaded_that_takes_long() -> None:
    told = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "coach", "--help"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    loaded = {line.rpartition("|")[2].strip() for line in told.stderr.splitlines()}
    assert "coach.commands.cli" in loaded
    assert not loaded & {"numpy", "pydantic", "rich", "yaml", "sqlite3", "coach.commands.brief"}


def test_to_tell_of_runs_without_a_hand_nothing_is_loaded_that_takes_long() -> None:
    told = subprocess.run(
        [sys.executable, "-c", "import sys, coach.commands.logbook; print(*sys.modules)"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert not {*told.stdout.split()} & {"numpy", "pydantic", "yaml", "coach.hand.smooth"}
