"""Promises about the files that the coach makes: whose they are, and that none is half written."""

from __future__ import annotations

import os
import secrets
import stat
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from coach import shelf
from coach.logbook.exchange import export
from coach.logbook.file import alone
from coach.logbook.logbook import Logbook
from coach.problems import Problem, written
from tests.logbook.examples import RUN

posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")


@pytest.fixture(autouse=True)
def _everybody_may_read_by_default() -> object:
    before = os.umask(0o022)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@posix
def test_nobody_else_may_read_the_logbook_its_exports_or_what_is_set_aside(tmp_path: Path) -> None:
    home = tmp_path / "new" / "coach"
    path = home / "logbook.sqlite3"
    with Logbook(path) as log:
        log.add([replace(RUN, ended="finished")])
        export(log, home / "runs.json")
        export(log, home / "runs.csv")
        made = {one.name: mode(one) for one in home.iterdir()}
    assert made == dict.fromkeys(
        ("logbook.sqlite3", "logbook.sqlite3-wal", "logbook.sqlite3-shm", "logbook.lock",
         "runs.json", "runs.csv"), 0o600,
    )  # fmt: skip
    assert (mode(home), mode(home.parent)) == (0o700, 0o700)
    path.write_text("Dear diary, " * 1000)
    path.chmod(0o644)
    Logbook(path).close()
    assert mode(home / "logbook-set-aside-1.sqlite3") == 0o600


@posix
def test_a_logbook_that_others_could_read_is_closed_to_them_and_its_folder_left_alone(
    tmp_path: Path,
) -> None:
    path = tmp_path / "logbook.sqlite3"
    Logbook(path).close()
    path.chmod(0o664)
    tmp_path.chmod(0o755)
    Logbook(path).close()
    assert (mode(path), mode(tmp_path)) == (0o600, 0o755)
    with alone(path.with_suffix(".lock"), 1.0):
        assert mode(path.with_suffix(".lock")) == 0o600


@posix
def test_a_link_that_was_laid_in_the_way_is_not_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    theirs = tmp_path / "theirs"
    theirs.write_text("theirs")
    # Even by somebody who knew the name, and nobody does.
    monkeypatch.setattr(secrets, "token_hex", lambda _: "0" * 8)
    (tmp_path / f".mine.{'0' * 8}.part").symlink_to(theirs)
    with pytest.raises(Problem, match="cannot be written"), written(tmp_path / "mine") as part:
        part.write_text("mine")
    assert theirs.read_text() == "theirs" and not (tmp_path / "mine").exists()


@posix
def test_a_link_in_the_place_of_a_file_is_replaced_and_its_target_stays(tmp_path: Path) -> None:
    theirs, mine = tmp_path / "theirs", tmp_path / "mine"
    theirs.write_text("theirs")
    mine.symlink_to(theirs)
    with written(mine) as part:
        part.write_text("mine")
    assert (theirs.read_text(), mine.read_text(), mine.is_symlink()) == ("theirs", "mine", False)


def test_what_a_killed_coach_left_half_written_goes_with_the_next_file_of_that_name(
    tmp_path: Path,
) -> None:
    old, young, other = (
        tmp_path / f".{name}.{code * 8}.part"
        for name, code in (("runs[1].csv", "a"), ("runs[1].csv", "b"), ("runs2.csv", "a"))
    )
    for one in (old, young, other):
        one.touch()
    for one in (old, other):
        os.utime(one, (time.time() - 4000.0,) * 2)
    with written(tmp_path / "runs[1].csv") as part:
        part.write_text("whole")
    left = sorted(one.name for one in tmp_path.iterdir())
    assert left == sorted([young.name, other.name, "runs[1].csv"])


HOMELESS = """
import os, shutil, sys
os.chdir(sys.argv[1])
if sys.argv[2] == "gone":
    shutil.rmtree(sys.argv[1])
from coach import shelf
from coach.problems import Problem
os.chdir("/")
try:
    print(shelf.data_folder())
except Problem as problem:
    print(problem)
"""


@posix
@pytest.mark.parametrize("what", ["there", "gone"])
def test_a_home_that_is_written_short_is_meant_from_where_the_coach_was_started(
    tmp_path: Path, what: str
) -> None:
    begun = tmp_path / "begun"
    begun.mkdir()
    told = subprocess.run(
        [sys.executable, "-c", HOMELESS, str(begun), what],
        env={**os.environ, "COACH_HOME": "kept", "PYTHONPATH": str(Path(__file__).parents[1])},
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    if what == "there":
        assert told == f"{begun / 'kept'}\n"
    else:
        assert told == ("The folder that kept lies in is gone: set COACH_HOME to a whole path.\n")


@posix
def test_folders_that_the_coach_makes_are_its_users_alone(tmp_path: Path) -> None:
    folder = shelf.made(tmp_path / "one" / "two")
    assert (mode(folder), mode(folder.parent)) == (0o700, 0o700)
