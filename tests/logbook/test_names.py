"""Promises about names: none makes a run damaged, however it is written, here or in the file."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from coach.commands.cli import main
from coach.logbook.calibration import Calibration
from coach.logbook.exchange import export
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run, Score
from coach.practice.judging import pasts
from tests.logbook.examples import RUN, TAPS, of_version

FLOWN = replace(RUN, taps=TAPS, ended="finished", reached_s=20.0, score=Score(2, 2, 1, 0.2))
FAMILY = "\U0001f469\u200d\U0001f469\u200d\U0001f467"  # three emoji joined into one


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


def changed(path: Path, statement: str, *values: object) -> None:
    with sqlite3.connect(path) as db:
        db.execute(statement, values)
    db.close()


def readable(path: Path, number: int) -> Run:
    """A run that every way of reading the logbook finds."""
    with Logbook(path) as log:
        run = log.run(number)
        assert number in [one.id for one in log.every()]
        assert any(line.id == number for past in pasts(log, None) for line in past.recent)
        assert export(log, path.with_suffix(".json")) == export(log, path.with_suffix(".csv"))
        assert log.damage == ""
        return run


@pytest.mark.parametrize("field", ["title", "airplane", "student", "maneuver", "support"])
@pytest.mark.parametrize("name", ["Lazy\u00a0eight", f"Ada {FAMILY}", "\ufffd", "\x1b[2J", "a\nb"])
def test_no_name_makes_a_run_damaged(path: Path, field: str, name: str) -> None:
    with Logbook(path) as log:
        log.add([replace(FLOWN, **{field: name}), replace(FLOWN, student="Bo")])  # type: ignore[arg-type]
    found = getattr(readable(path, 1), field)
    assert found.isprintable() and "\x1b" not in found


@pytest.mark.parametrize("name", ["x'ff01'", "CAST(x'ff41' AS TEXT)", "CAST(x'1b5b324a' AS TEXT)"])
@pytest.mark.parametrize("field", ["title", "airplane", "student", "maneuver", "support", "room"])
def test_a_name_that_is_no_text_is_shown_as_far_as_it_can_be(
    path: Path, field: str, name: str
) -> None:
    with Logbook(path) as log:
        log.add([FLOWN, replace(FLOWN, started=FLOWN.started + timedelta(days=1))])
    changed(path, f"UPDATE runs SET {field} = {name} WHERE id = 1")
    assert "\N{REPLACEMENT CHARACTER}" in getattr(readable(path, 1), field)


def test_a_checkpoints_name_that_cannot_be_shown_is_replaced(path: Path) -> None:
    with Logbook(path) as log:
        moments = (replace(RUN.moments[0], name="\x1b[31m45"), RUN.moments[1])
        taps = (replace(TAPS[2], said="\x07now"),)
        log.add([replace(FLOWN, moments=moments, taps=taps)])
    run = readable(path, 1)
    assert run.moments[0].name == "\N{REPLACEMENT CHARACTER}[31m45"
    assert run.taps[0].said == "\N{REPLACEMENT CHARACTER}now"


def test_an_earlier_coachs_names_are_cleaned_and_what_it_condemned_comes_back(path: Path) -> None:
    with Logbook(path) as log:
        names = (f"Ada {FAMILY}", f"Ada {FAMILY}", "\u3164", "B\u0000o")
        log.add(
            replace(FLOWN, student=name, started=FLOWN.started + timedelta(hours=hour))
            for hour, name in enumerate(names)
        )
    of_version(path, 3)
    changed(path, "UPDATE runs SET ended = 'damaged', title = ?", "Lazy\u00a0eight")
    changed(path, "UPDATE runs SET reached_s = 11 WHERE id = 2")
    changed(path, "UPDATE runs SET trace = x'00' WHERE id = 4")
    with Logbook(path) as log:
        assert log.note == ""
        flown, stopped, nameless = log.every()
        assert flown.title == "Lazy eight" and flown.student == "Ada " + FAMILY.replace(
            "\u200d", ""
        )
        assert (flown.ended, stopped.ended) == ("finished", "stopped")
        assert nameless.student == "\N{REPLACEMENT CHARACTER}"
        assert log.past(flown.student)[0].runs == 2
        assert [row[0] for row in log._rows("SELECT ended FROM runs WHERE id = 4")] == ["damaged"]


def test_of_two_offsets_that_become_one_students_the_newer_is_kept(path: Path) -> None:
    offset = Calibration("Ada\u00a0Field", "headset", 0.1, 0.0, 0.2, RUN.started)
    with Logbook(path) as log:
        log.calibrate(offset)
        later = RUN.started + timedelta(hours=1)
        log.calibrate(replace(offset, student="Ada Field", offset_s=0.3, found=later))
        log.calibrate(replace(offset, student="Ada\u200b Field", offset_s=0.2))
    of_version(path, 3)
    with Logbook(path) as log:
        kept = log.calibration("Ada Field", "headset")
        assert kept is not None and kept.offset_s == 0.3
        assert log.holds("Ada Field") == (0, 1, 0)


def test_a_run_of_a_room_says_so(path: Path, home: Path) -> None:
    with Logbook() as log:
        log.add([replace(FLOWN, room="Blue")])
        along = log.begin_too(1, "Bo")
        assert along is not None and log.run(along).room == "Blue"
        assert log.past("Ada")[0].recent[0].room == "Blue"
        log.end(along, "finished", 20.0)
    for words in ("logbook", "debrief"):
        assert "in room Blue" in CliRunner().invoke(main, [words, "--student", "Ada"]).stdout


def test_who_is_named_on_the_command_line_is_found_as_the_name_is_kept(home: Path) -> None:
    with Logbook() as log:
        log.add([replace(FLOWN, student="Ada Field")])
    told = CliRunner().invoke(main, ["logbook", "--student", "Ada\u00a0\u200bField"])
    assert told.exit_code == 0 and "Lazy eight" in told.stdout
    told = CliRunner().invoke(main, ["logbook", "--student", "Ada\x1b"])
    assert told.stderr == "Error: --student: found the character U+001B, which cannot be shown.\n"
    told = CliRunner().invoke(main, ["rehearse", "lazy-eight", "--student", "\u3164"])
    assert told.stderr == "Error: --student is empty: give a first name or a nickname.\n"
