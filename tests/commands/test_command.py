"""The command, started as a person starts it: what it prints, and how it ends."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import soundfile
from click.testing import CliRunner
from rich.console import Console

from coach.callouts.sheet import cue_sheet
from coach.commands import live
from coach.commands.cli import main
from coach.flight.day import Day
from coach.logbook.logbook import Logbook
from coach.logbook.past import RECENT
from coach.rehearsal import ready as rehearsal
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal
from coach.sound.soundtrack import mix
from tests.logbook.examples import RUN, TAPS

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)


WITHOUT_SOUND = """
import sys
sys.modules.update(sounddevice=None, miniaudio=None)
from coach.commands.cli import main
main()
"""


def coach(
    *words: str, program: tuple[str, ...] = ("-m", "coach"), **more: str
) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COACH_OUTPUT": "silent", **more}
    return subprocess.run(
        [sys.executable, *program, *words],
        capture_output=True,
        text=True,
        env=env,
        timeout=120,
        stdin=subprocess.DEVNULL,
        check=False,
    )


def test_brief_prints_the_board_and_json_is_nothing_but_json() -> None:
    assert "Lazy eight" in coach("brief", "lazy-eight").stdout
    told = coach("brief", "lazy-eight", "--json", "--loops", "2")
    assert len(json.loads(told.stdout)["checkpoints"]) == 8


def test_record_writes_the_soundtrack_and_its_captions(tmp_path: Path) -> None:
    sound, words = tmp_path / "lazy.flac", tmp_path / "lazy.vtt"
    told = coach(
        "record", "lazy-eight", "--loops", "1", "-o", str(sound), "--captions", str(words),
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert soundfile.info(sound).duration > 60.0
    assert words.read_text(encoding="utf-8").startswith("WEBVTT\n")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("brief", "lazy-ate"), "There is no maneuver 'lazy-ate'; did you mean lazy-eight?"),
        (("brief", "lazy-eight", "--airplane", "medow-four"), "did you mean meadow-four?"),
        (("brief", "lazy-eight", "--weight", "9000"), "at most 2480 lb"),
        (("brief", "lazy-eight", "--table", "/nowhere/a.csv"), "/nowhere/a.csv: cannot be written"),
        (("brief", "lazy-eight", "--json", "--short"), "--json and --short are two ways"),
        (("brief", "lazy-eight", "--picture", "a.gif"), "must end in .png or .svg"),
        (("record", "lazy-eight", "-o", "/nowhere/a.wav"), "/nowhere/a.wav"),
        (("record", "lazy-eight", "-o", "a.mid"), ".wav or .flac"),
        (("rehearse", "lazy-eight", "--output", "gramophone"), "no sound device called gramophone"),
        (("debrief",), "There is no run yet"),
        (("debrief", "7"), "Run 7 is not in the logbook"),
        (("rehearse", "lazy-eight", "--bed", "loud"), "--bed: found 'loud', expected off"),
        (("rehearse", "lazy-eight", "--bed", "enjin=off"), "did you mean engine?"),
        (("rehearse", "lazy-eight", "--tappers", "A=a", "--student", "B"), "leave --student out"),
        (("record", "lazy-eight", "-o", "a.wav", "--picture", "a.gif"), "end in .png or .svg"),
        (("record", "--all", "-o", "a", "--form", "mid"), "--form: found '.mid'"),
        (("settings", "voice=Nobody"), "voice: there is no 'Nobody' here"),
        (("settings", "output=gramophone"), "output: there is no 'gramophone' here"),
        (("next", "--checkride", "tomorrow"), "expected a date such as 2031-05-20"),
        (("next", "--checkride", "2020-02-02"), "--checkride: 2020-02-02 is past; today is"),
        (("calibrate",), "There is no sound to tap along with"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], sentence: str
) -> None:
    monkeypatch.setenv("COACH_OUTPUT", "silent")
    told = CliRunner().invoke(main, words)
    assert sentence in told.stderr
    assert told.exit_code == 1
    assert isinstance(told.exception, SystemExit)  # nothing else came through
    assert len(told.stderr.strip().splitlines()) == 1


def test_a_script_of_one_s_own_comes_first_and_its_faults_are_told(home: Path) -> None:
    own = home / "scripts" / "maneuvers"
    own.mkdir(parents=True)
    (own / "lazy-eight.yaml").write_text("maneuver: lazy-eight\ntitel: Mine\n", encoding="utf-8")
    told = coach("brief", "lazy-eight")
    assert "lazy-eight.yaml, line 2: unknown key 'titel'; did you mean title?" in told.stderr


def test_a_command_that_does_not_exist_is_refused() -> None:
    told = coach("breif")
    assert told.returncode == 2
    assert "breif" in told.stderr


def test_who_names_no_maneuver_is_told_where_they_are_listed() -> None:
    told = coach("rehearse")
    assert told.returncode == 2
    assert "Missing argument 'MANEUVER'. coach library lists them all." in told.stderr


def test_output_cut_off_by_a_pipe_is_no_crash() -> None:
    told = subprocess.run(
        f"{sys.executable} -m coach brief lazy-eight --json | head -1",
        shell=True, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert told.stdout == "{\n"
    assert "Traceback" not in told.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize("words", [("brief", "lazy-eight"), ("--help",)])
def test_output_to_a_full_disk_is_one_sentence(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        told = subprocess.run(
            [sys.executable, "-m", "coach", *words],
            stdout=full, stderr=subprocess.PIPE, text=True, timeout=120, check=False,
        )  # fmt: skip
    assert told.stderr == "Error: Stopped: No space left on device.\n"
    assert told.returncode == 1


def test_an_output_that_cannot_show_every_sign_gets_question_marks() -> None:
    told = coach("brief", "lazy-eight", PYTHONIOENCODING="ascii")
    assert told.returncode == 0, told.stderr
    assert "Lazy eight ? Meadow Four" in told.stdout


def test_settings_that_are_no_text_are_one_sentence(home: Path) -> None:
    (home / "settings.yaml").write_bytes(b"\xff\xfe\x00")
    told = coach("settings")
    assert told.returncode == 1
    assert "settings.yaml" in told.stderr
    assert "Traceback" not in told.stderr


def test_without_a_terminal_or_a_device_the_captions_are_printed_on_time_and_the_run_is_kept() -> (
    None
):
    told = coach(
        "rehearse", QUICK_TURN, "--airplane", KITE,
        program=("-c", WITHOUT_SOUND), COACH_OUTPUT="",
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert "Half way." in told.stdout
    assert told.stderr.count("No sound device") == 1
    assert json.loads(coach("debrief", "--json").stdout)["run"]["ended"] == "finished"


def test_a_terminal_that_cannot_move_its_cursor_gets_the_keys_and_the_captions(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    flight = rehearsal.fly("chandelle", "meadow-four", Day())
    sheet = cue_sheet(flight, {})
    ready = Rehearsal(flight, {}, sheet, mix(sheet, {}), None)
    (start_s, words), *_ = ((cue.start_s, cue.phrase.text) for cue in sheet.cues if cue.phrase)

    def run(*given: Any, **_: object) -> Done:
        given[3](Progress(sheet, start_s))
        return Done(False, (), "")

    monkeypatch.setenv("TERM", "dumb")
    monkeypatch.setattr(live, "run", run)
    with Logbook() as log:
        console = Console(force_terminal=True)
        live.fly(ready, log, console, output=None, students={"space": ""})
    assert capsys.readouterr().out == (f"space taps, p pauses, r starts over, q stops.\n{words}\n")


def test_a_student_s_very_first_run_says_what_the_space_bar_is_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    notes = []

    def fly(ready: Rehearsal, *_: object, **__: object) -> Done:
        notes.append(ready.note)
        return Done(False, (), "")

    monkeypatch.setattr(live, "fly", fly)
    for student in ("Ada", "Bo"):
        told = CliRunner().invoke(main, ["rehearse", "chandelle", "--student", student])
        assert told.exit_code == 0, told.output
        with Logbook() as log:
            log.add([replace(RUN, student="Bo", ended="finished", taps=TAPS)])
    assert notes[0] == "Press the space bar at each checkpoint, when you think you are there."
    assert notes[1] == "Nothing to go by yet, so the coach says everything."


def test_the_debrief_of_an_old_run_is_told_beside_those_before_it() -> None:
    with Logbook() as log:
        log.add(
            replace(
                RUN,
                pace=1.0,
                taps=TAPS,
                ended="finished",
                started=RUN.started + timedelta(days=day),
            )
            for day in range(RECENT + 3)
        )
        old = log.runs(RECENT + 3)[-2]
    told = json.loads(coach("debrief", str(old.id), "--json").stdout)
    assert len(told["trend"]["shares"]) == 2


def test_where_a_file_is_asked_for_the_brief_is_not_printed_as_well(tmp_path: Path) -> None:
    file = str(tmp_path / "brief.csv")
    told = CliRunner().invoke(main, ("brief", "climb-at-constant-speed", "--table", file))
    assert (told.exit_code, told.stdout, told.stderr) == (0, "", f"Wrote {file}.\n")
    short = CliRunner().invoke(
        main, ("brief", "climb-at-constant-speed", "--table", file, "--short")
    )
    assert "Climb at constant speed" in short.stdout
