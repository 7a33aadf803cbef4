"""Promises of the commands that look back and ahead: what they ask, refuse and show."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coach.commands.cli import main
from coach.logbook.calibration import Calibration
from coach.logbook.logbook import Logbook
from tests.debrief import students

NOW = datetime.now().astimezone()


@pytest.fixture
def home(home: Path) -> Path:
    """With three finished runs, the last of them Ada's."""
    with Logbook() as log:
        for number, name in ((1, ""), (2, ""), (3, "Ada")):
            run = students.flown(students.late_at_90(number), support="tones")
            log.add([replace(run, student=name, started=NOW - timedelta(days=9 - number))])
        log.calibrate(Calibration("Ada", "loudspeaker", 0.03, 0.02, 0.04, NOW))
    return home


def coach(*words: str) -> Result:
    return CliRunner().invoke(main, words)


def test_nobody_is_forgotten_without_being_asked(home: Path) -> None:
    told = coach("logbook", "--forget", "Ada")
    assert told.exit_code == 1
    assert told.stderr == (
        "Error: --forget would remove 1 run and 1 calibration of Ada for good: "
        "add --yes if that is meant.\n"
    )
    with Logbook() as log:
        assert log.holds("Ada") == (1, 1, 0)
    assert coach("logbook", "--forget", "Ada", "--yes").stderr == (
        "Removed: 1 run and 1 calibration of Ada.\n"
    )
    assert coach("logbook", "--forget", "Ada", "--yes").stderr == (
        "Error: The logbook has nothing of a student 'Ada'.\n"
    )
    assert "2 runs without a name" in coach("logbook", "--forget", "").stderr


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")
@pytest.mark.parametrize(
    ("answer", "left", "status"), [("n", 3, 0), ("", 3, 0), ("y", 2, 0), ("\x04", 3, 130)]
)
def test_at_a_terminal_forgetting_waits_for_yes(
    home: Path, answer: str, left: int, status: int
) -> None:
    ours, theirs = os.openpty()
    os.write(ours, f"{answer}\n".encode())
    told = subprocess.run(
        [sys.executable, "-m", "coach", "logbook", "--forget", "Ada"],
        stdin=theirs, capture_output=True, text=True, check=False,
    )  # fmt: skip
    os.close(theirs)
    os.close(ours)
    assert "Remove 1 run and 1 calibration of Ada for good?" in told.stderr + told.stdout
    assert told.returncode == status
    with Logbook() as log:
        assert len(log.runs()) == left


def test_a_student_is_chosen_only_for_what_is_shown_or_exported(home: Path) -> None:
    told = coach("logbook", "--student", "Ada", "--import", str(home / "runs.json"))
    assert told.stderr == (
        "Error: --student chooses what is shown or exported: leave it out here.\n"
    )


def test_one_student_s_runs_are_exported_and_nobody_else_s(home: Path) -> None:
    runs = home / "runs.json"
    told = coach("logbook", "--student", "Ada", "--export", str(runs))
    assert told.stderr == f"Wrote {runs}: 1 run.\n"
    assert [one["student"] for one in json.loads(runs.read_text("utf-8"))["runs"]] == ["Ada"]
    assert "2 runs" in coach("logbook", "--student", "", "--export", str(runs)).stderr
    assert "3 runs" in coach("logbook", "--export", str(runs)).stderr
    told = coach("logbook", "--student", "Adda", "--export", str(home / "none.json"))
    assert told.stderr == "Error: There is no run of 'Adda'; did you mean Ada?\n"
    assert not (home / "none.json").exists()


def test_a_student_s_last_run_is_debriefed_and_the_logbook_says_its_number(home: Path) -> None:
    def number(*words: str) -> int:
        found: int = json.loads(coach("debrief", *words, "--json").stdout)["run"]["id"]
        return found

    assert (number(), number("--student", "Ada"), number("--student", "")) == (3, 3, 2)
    head, line = coach("logbook", "--student", "").stdout.splitlines()
    assert head.split()[:4] == ["maneuver", "runs", "run", "last"]
    assert line.split()[:4] == ["Lazy", "eight", "2", "2"]
    told = coach("debrief", "--student", "Adda")
    assert told.stderr == "Error: There is no run of 'Adda'; did you mean Ada?\n"
    told = coach("debrief", "3", "--student", "Ada")
    assert told.stderr == "Error: A run's number says whose it is: leave --student out.\n"


@pytest.mark.parametrize(
    "words",
    [(), ("--table",), ("--picture", "a.svg"), ("--report", "a.html", "--json")],
)
def test_a_run_that_met_no_checkpoint_is_one_sentence(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    early = replace(students.RUN, started=NOW, ended="stopped", reached_s=3.0)
    with Logbook() as log:
        log.add([early])
    told = coach("debrief", *words)
    assert told.exit_code == 1
    assert told.stdout == ""
    assert told.stderr == (
        "Error: Run 4, Lazy eight, was stopped at 0:03.0, before its first checkpoint: there is "
        "nothing to debrief; before it there is coach debrief 3.\n"
    )
    assert not list(tmp_path.glob("a.*"))
    assert "0/0" not in coach("logbook").stdout
    told = coach("debrief", "--json")
    assert json.loads(told.stdout)["plain"] == "The run ended before the first checkpoint."


def test_the_tables_fit_80_columns_and_nothing_is_cut(home: Path) -> None:
    with Logbook() as log:
        long = replace(
            students.answering(10.0, at=1),
            title="Unusual attitude, nose high",
            maneuver="unusual-attitude-nose-high",
            started=NOW - timedelta(days=40),
            support="asking",
        )
        spoken = tuple(replace(tap, how="voice") for tap in long.taps)
        log.add(
            replace(long, taps=spoken, started=long.started - timedelta(days=n)) for n in range(12)
        )
    for words in (("debrief", "15", "--table"), ("logbook",)):
        shown = coach(*words).stdout
        assert max(map(len, shown.splitlines())) <= 80
        assert "…" not in shown


def test_the_debrief_tells_each_leg_by_itself(home: Path) -> None:
    legs = json.loads(coach("debrief", "1", "--json").stdout)["legs"]
    assert list(legs) == ["45", "90", "135", "180"]
    assert legs["90"]["constant_error_s"] > 0.7 > legs["135"]["constant_error_s"]
    assert (legs["90"]["tapped"], legs["90"]["missed"]) == (4, 0)
    assert "leg to" in coach("debrief", "1", "--table").stdout


@pytest.mark.parametrize("ending", [".html", ".pdf"])
def test_a_report_for_which_there_is_no_room_is_one_sentence(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    told = coach("debrief", "1", "--report", str(tmp_path / f"page{ending}"))
    assert told.stderr.endswith(f"page{ending}: cannot be written: No space left on device.\n")
    assert not list(tmp_path.glob("*page*"))


def test_a_name_is_shown_as_it_is_written(home: Path) -> None:
    name, title = "Bo [/b] :smile:", "Turn [left]"
    with Logbook() as log:
        log.add([replace(students.RUN, student=name, title=title, started=NOW)])
    told = coach("logbook").stdout
    assert name in told and title in told


def test_who_has_no_run_is_told_who_has(home: Path) -> None:
    for command in ("logbook", "next"):
        told = coach(command, "--student", "Adda").stderr
        assert told == "Error: There is no run of 'Adda'; did you mean Ada?\n"
    coach("logbook", "--forget", "", "--yes")
    told = coach("next").stderr
    assert told == "Error: There is no run without a name; add --student for Ada.\n"


def test_a_run_that_does_not_count_is_shown_with_the_reason_and_changes_nothing(
    home: Path,
) -> None:
    def row() -> list[str]:
        return coach("logbook", "--student", "Ada").stdout.splitlines()

    before = row()
    assert len(before) == 2
    for number, (given, why) in enumerate(
        (
            ({"pace": 0.5}, "at half pace"),
            ({"ended": "stopped", "reached_s": 60.0}, "stopped early"),
            ({"taps": ()}, "without taps"),
        ),
        1,
    ):
        run = students.flown(students.perfect(number), support="tones")
        with Logbook() as log:
            log.add(
                [replace(run, student="Ada", started=NOW + timedelta(seconds=number), **given)]  # type: ignore[arg-type]
            )
        head, line, reason, *note = row()
        assert (head.split(), reason.strip()) == (before[0].split(), why)
        assert line.split()[-6:] == before[1].split()[-6:]  # best, trend, readiness, due
        assert "does not count for best, trend, readiness and due." in " ".join(note)
        told = " ".join(coach("debrief", "--student", "Ada").stdout.split())
        assert "This run does not count for trend, readiness or the day it is due: " in told
    assert "does not count" not in coach("debrief", "3").stdout


class Today(date):
    """The day of the runs, also where midnight has come since."""

    @classmethod
    def today(cls) -> Today:
        return cls(NOW.year, NOW.month, NOW.day)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every maneuver takes a minute; nothing is flown to know that, nor kept where others look."""
    monkeypatch.setattr(
        "coach.rehearsal.today.lengths_s", lambda _, maneuvers, *__: dict.fromkeys(maneuvers, 60.0)
    )
    monkeypatch.setattr("coach.commands.next.date", Today)


@pytest.mark.usefixtures("quick")
def test_what_to_fly_again_is_named_with_what_its_last_debrief_said(home: Path) -> None:
    with Logbook() as log:
        log.add([replace(students.flown(students.late_at_90(4)), student="Bo", started=NOW)])
    told = coach("next", "--student", "Bo").stdout
    left, row = " ".join(told.split()).split(" Fly again, the shakiest first: ")
    assert left.endswith("Never flown. Commercial, as lazy-eight is. That leaves 6 of 20 minutes.")
    assert row.startswith("lazy-eight ")
    assert "Flown today, 12 of 16 checkpoints on time. Work on the leg to 90: you are" in row


@pytest.mark.usefixtures("quick")
def test_the_next_are_those_of_the_checkride_that_is_coming(home: Path) -> None:
    soon = str((NOW + timedelta(days=1)).date())

    def named(*words: str) -> set[str]:
        told = coach("next", "--student", "Cy", "--checkride", soon, "--minutes", "600", *words)
        assert "again" not in told.stdout  # before the very first run
        return {line.split()[0] for line in told.stdout.splitlines()}

    private, commercial = named("--for", "private"), named("--for", "commercial")
    assert {"steep-turn-45", "s-turns"} <= private - commercial
    assert {"steep-turn-50", "lazy-eight"} <= commercial - private
    assert {"go-around", "slow-flight"} <= private & commercial
    assert named() == commercial  # remembered
    assert named("--for", "any") == private | commercial | {"holding-pattern"} == named()


def test_what_is_learned_for_is_remembered_by_the_brief_the_debrief_and_its_report(
    home: Path,
) -> None:
    # FAA-S-ACS-6 and FAA-S-ACS-7, task VII.A, as read in copies of their element tables.
    assert "checkride (any)" in coach("settings").stdout
    both = coach("brief", "slow-flight").stdout
    assert "airspeed: +10 -0 kt" in both and "airspeed: +5 -0 kt" in both
    for words in (("--for", "commercial"), ()):
        told = coach("brief", "slow-flight", *words).stdout
        assert "Standard (commercial checkride, FAA-S-ACS-7, task VII.A)" in told
        assert "altitude: 50 ft" in told and "altitude: 100 ft" not in told
    assert "checkride commercial" in coach("settings").stdout
    standards = json.loads(coach("brief", "slow-flight", "--json").stdout)["standards"]
    assert [one["checkride"] for one in standards] == ["commercial"]

    path = home / "run.html"
    coach("debrief", "--report", str(path))
    assert "Commercial checkride, FAA-S-ACS-7, task V.D: " in path.read_text("utf-8")
    assert "altitude at each 180: 100 ft" in " ".join(coach("debrief", "--table").stdout.split())
    standards = json.loads(coach("debrief", "--json").stdout)["standards"]
    assert [one["checkride"] for one in standards] == ["commercial"]

    coach("settings", "checkride=private")
    told = coach("brief", "slow-flight").stdout
    assert "altitude: 100 ft" in told and "altitude: 50 ft" not in told
    assert "did you mean private?" in coach("settings", "checkride=privat").stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("debrief", "9" * 30), f"Run {'9' * 30} is not in the logbook; its runs are numbered 1 "),
        (("settings", "rate=fast"), "rate: found 'fast', expected a whole number."),
        (("settings", "niner=perhaps"), "niner: found 'perhaps', expected on or off."),
    ],
)
def test_what_is_no_good_is_said_in_a_pilot_s_words(
    home: Path, words: tuple[str, ...], sentence: str
) -> None:
    told = coach(*words)
    assert told.stderr.startswith(f"Error: {sentence}")
    assert told.exit_code == 1


@pytest.mark.parametrize(
    "words",
    [("logbook",), ("debrief",), ("logbook", "--export", "all.csv"), ("logbook", "--student", "")],
)
def test_a_damaged_run_is_told_and_the_command_goes_on(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    with sqlite3.connect(home / "logbook.sqlite3") as db:
        db.execute("UPDATE runs SET moments = x'00', student = '' WHERE id = 3")
    db.close()
    told = coach(*words)
    assert told.exit_code == 0
    assert "Run 3 is damaged (its checkpoints cannot be read)" in told.stderr
    assert coach(*words).stderr.count("damaged") == 0
