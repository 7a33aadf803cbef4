"""Promises of a narrow terminal: nothing of a table is lost there, and no word is torn apart."""

from __future__ import annotations

import contextlib
import io
import os
import re
import struct
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from coach.commands import next as next_
from coach.commands.cli import main
from coach.commands.saying import fitted
from coach.logbook.logbook import Logbook
from coach.practice.schedule import Practice, Suggestion
from tests.debrief import students

TABLES = (
    *("brief traffic-pattern", "brief lazy-eight --short", "brief traffic-pattern --short"),
    *(
        "check meadow-four",
        "debrief --table",
        "logbook",
        "next --minutes 4",
        "outputs",
        "voices --all",
    ),
)
"""Every command that prints a table."""


@pytest.fixture
def home(home: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """With three finished runs, the last one in a room, and something to fly today."""
    some = [Suggestion(f"{name}-at-constant-speed", 127.0, "Never flown.", None) for name in "ab"]
    monkeypatch.setattr(next_, "today", lambda *_, **__: Practice(tuple(some), (), (), ""))
    with Logbook() as log:
        for number, name in ((1, ""), (2, ""), (3, "Ada")):
            run = students.flown(students.late_at_90(number), support="tones")
            ago = datetime.now().astimezone() - timedelta(days=9 - number)
            room = "ABCDE" if name else ""
            log.add([replace(run, student=name, room=room, started=ago)])
    return home


def printed(words: str, wide: int) -> str:
    told = CliRunner(env={"COLUMNS": str(wide)}).invoke(main, words.split())
    assert told.exit_code == 0, told.output
    return told.stdout


@pytest.mark.parametrize("words", TABLES)
def test_no_column_is_lost_on_40_columns(home: Path, words: str) -> None:
    narrow = printed(words, 40)
    assert max(map(len, narrow.splitlines())) <= 40
    assert "…" not in narrow
    whole = re.sub("[─━]+", "", printed(words, 300))
    lost = Counter(whole.split()) - Counter(narrow.split())
    assert not lost


class Terminal(io.StringIO):
    """Enough of one to be asked whether it is one."""

    def isatty(self) -> bool:
        return True


@given(st.text(st.sampled_from("ab- –é\n"), max_size=200), st.integers(20, 100))
def test_what_is_said_is_broken_between_words_alone(said: str, wide: int) -> None:
    with pytest.MonkeyPatch.context() as given:
        given.setenv("COLUMNS", str(wide))
        fit = fitted(said, Terminal())
    assert fit.split() == said.split()
    for line in fit.split("\n"):
        assert len(line) <= wide or len(line.split()) == 1
    assert fitted(said, io.StringIO()) == said  # a file, or another program


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")
@pytest.mark.parametrize(("wide", "words"), [(40, "rehearse lazy-eight --support nothing"),
                                             (60, "brief zigzag")])  # fmt: skip
def test_whatever_stops_a_command_is_told_in_whole_words_as_wide_as_the_terminal(
    wide: int, words: str
) -> None:
    import fcntl
    import termios

    ours, theirs = os.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, wide, 0, 0))
    given = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    told = subprocess.run(
        [sys.executable, "-m", "coach", *words.split()],
        stdin=theirs, stdout=theirs, stderr=theirs, env=given, check=False,
    )  # fmt: skip
    os.close(theirs)
    assert told.returncode
    seen = b""
    with contextlib.suppress(OSError):  # so ends a terminal whose programs are gone
        while read := os.read(ours, 65536):
            seen += read
    os.close(ours)
    lines = seen.decode().splitlines()
    assert len(lines) > 3 and max(map(len, lines)) <= wide
    piped = CliRunner().invoke(main, words.split(), prog_name="python -m coach").stderr
    assert " ".join(lines).split() == piped.split()
