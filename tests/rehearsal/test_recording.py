"""Promises of recordings: one rehearsal, and the whole library."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import as_completed
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
import soundfile

from coach.callouts.captions import webvtt
from coach.callouts.sheet import cue_sheet
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.problems import Problem
from coach.rehearsal import recording
from coach.rehearsal.ready import Rehearsal, fly
from coach.rehearsal.recording import Recorded, chapters, fingerprint, record, record_all
from coach.settings import USUAL, change
from coach.sound import files
from coach.sound.bed import LEVELS
from coach.sound.soundtrack import mix
from coach.sound.voices import voices
from coach.words import CAUTION

KITE = str(Path(__file__).parents[1] / "kite.yaml")
QUIET = change(USUAL, ["support=checkpoints", *(f"{part}=off" for part in LEVELS)])

SCRIPT = """\
maneuver: {name}
title: {title}
entry: {{speed: [cruise], height: 3000 ft, power: as needed}}
legs:
  - {{name: straight and level, time: 4 s, altitude: entry, speed: entry, power: as needed}}
checkpoints:
  - {{name: over, ends: straight and level}}
callouts:
  - {{at: {{checkpoint: over}}, say: ["{{name}}."]}}
"""


@pytest.fixture
def home(home: Path) -> Path:
    """With three short maneuvers of the student's own."""
    for name in ("first", "second", "third"):
        script(home, name, f"The {name}")
    return home


def script(home: Path, name: str, title: str) -> None:
    path = home / "scripts" / "maneuvers" / f"{name}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(SCRIPT.format(name=name, title=title), encoding="utf-8")


@pytest.fixture
def voice() -> None:
    if not voices():
        (pytest.fail if os.environ.get("CI") else pytest.skip)("this machine has no voice")


@pytest.fixture(scope="module")
def lazy_eight() -> Flight:
    return fly("lazy-eight", KITE, Day(loops=2))


@pytest.mark.parametrize("pace", [0.5, 1.0, 1.5])
def test_each_loop_is_a_chapter_where_it_is_heard(lazy_eight: Flight, pace: float) -> None:
    sheet = cue_sheet(lazy_eight, {}, pace=pace)
    found = chapters(lazy_eight, sheet)
    assert [one.title for one in found] == [
        "Introduction", "Loop 1, to the right", "Loop 2, to the left",
    ]  # fmt: skip
    (first_180,) = [one.time_s for one in lazy_eight.moments if (one.loop, one.name) == (1, "180")]
    starts = [0.0, sheet.flight_start_s, sheet.flight_start_s + first_180 / pace]
    assert [one.start_s for one in found] == pytest.approx(starts)


def test_the_legs_of_a_single_loop_are_its_chapters() -> None:
    flight = fly("lazy-eight", KITE, Day(loops=1))
    found = chapters(flight, cue_sheet(flight, {}))
    assert [one.title for one in found] == [
        "Introduction", "Climbing, bank building", "Nose falling, bank to steepest",
        "Descending, bank coming off", "Pulling up, rolling level",
    ]  # fmt: skip
    assert all(a.start_s < b.start_s for a, b in itertools.pairwise(found))


def test_a_loop_that_does_not_turn_has_no_side(home: Path) -> None:
    flight = fly("first", KITE, Day(loops=2))
    found = chapters(flight, cue_sheet(flight, {}))
    assert [one.title for one in found] == ["Introduction", "Loop 1", "Loop 2"]


@pytest.mark.parametrize("ending", [".flac", ".mp3"])
def test_a_recording_holds_the_soundtrack_its_title_chapters_and_captions(
    lazy_eight: Flight, ending: str, tmp_path: Path
) -> None:
    sheet = cue_sheet(lazy_eight, {})
    rehearsal = Rehearsal(lazy_eight, {}, sheet, mix(sheet, {}), None)
    path, captions = tmp_path / f"one{ending}", tmp_path / "one.vtt"
    record(rehearsal, path, captions=captions)
    assert soundfile.info(path).frames == rehearsal.soundtrack.length
    told = mutagen.File(path).tags.pprint()
    for words in ("Lazy eight", CAUTION, "Loop 2, to the left"):
        assert words in told
    assert captions.read_text(encoding="utf-8") == webvtt(sheet)


def test_a_fingerprint_changes_with_whatever_is_heard(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plane = tmp_path / "kite.yaml"
    plane.write_bytes(Path(KITE).read_bytes())
    found = {fingerprint("first", str(plane), Day(), QUIET)}

    def differs(day: Day | None = None, pace: float = 1.0, **changes: Any) -> None:
        settings = QUIET.model_copy(update=changes)
        one = fingerprint("first", str(plane), day or Day(), settings, pace)
        assert one not in found
        found.add(one)

    differs(Day(weight="700"))
    differs(Day(loops=2))
    differs(support="tones")
    differs(pace=0.9)
    differs(voice="somebody")
    differs(rate=150)
    differs(niner=True)
    differs(engine=0.5)
    script(home, "first", "Another title")
    differs()
    plane.write_text(plane.read_text().replace("32 kt", "33 kt"))
    differs()
    (home / "audio_cues").mkdir()
    (home / "audio_cues" / "start.wav").write_bytes(b"")
    differs()
    monkeypatch.setattr(recording, "__version__", "0.0.0")
    differs()


def test_the_library_is_recorded_once_and_then_only_what_changed(
    home: Path, tmp_path: Path, voice: None
) -> None:
    folder, library = tmp_path / "to" / "take along", ("first", "second")
    shown: list[Recorded] = []

    def again(*more: str) -> tuple[set[str], dict[str, int]]:
        """Which were made, and when every file was written."""
        shown.clear()
        names = (*library, *more)
        done = record_all(folder, names, KITE, Day(), QUIET, ending=".opus", show=shown.append)
        assert done == shown and {one.maneuver for one in done} == {*library, *more}
        times = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
        return {one.maneuver for one in done if one.made}, times

    made, first_times = again()
    assert made == {"first", "second"}
    assert set(first_times) == {"first.opus", "first.vtt", "second.opus", "second.vtt"}
    assert "The second" in (folder / "second.vtt").read_text()

    made, times = again()
    assert not made and times == first_times

    # One script changes, one cannot be flown, one does not exist: exactly one is recorded.
    script(home, "first", "The very first")
    third = home / "scripts" / "maneuvers" / "third.yaml"
    third.write_text(third.read_text().replace("[cruise]", "[30 kt]"))
    made, times = again("third", "thrid")
    assert made == {"first"}
    changed = {name for name in times if times[name] != first_times.get(name)}
    assert changed == {"first.opus", "first.vtt"}
    problems = {one.maneuver: str(one.problem) for one in shown}
    assert "The third: the script's entry speed comes out at 30 kt" in problems["third"]
    assert problems["thrid"] == "There is no maneuver 'thrid'; did you mean third?"

    (folder / "second.vtt").unlink()
    made, times = again()
    assert made == {"second"} and "second.vtt" in times


def test_what_is_wrong_for_all_is_told_before_any_is_recorded(home: Path, tmp_path: Path) -> None:
    with pytest.raises(Problem, match="There is no airplane 'kit'"):
        record_all(tmp_path, ["first"], "kit", Day(), QUIET)
    with pytest.raises(Problem, match=r"must end in \.wav"):
        record_all(tmp_path, ["first"], KITE, Day(), QUIET, ending=".aac")
    (tmp_path / "taken").write_text("")
    with pytest.raises(Problem, match="taken: cannot be written: File exists"):
        record_all(tmp_path / "taken", ["first"], KITE, Day(), QUIET)


def _stays() -> None:
    time.sleep(600)


def test_a_process_that_is_ended_from_outside_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(futures: list[Any]) -> Iterator[Any]:
        for process in multiprocessing.active_children():
            process.kill()
        return as_completed(futures)

    # None of them comes so far that it has nothing left to do.
    monkeypatch.setattr(recording, "_begin", _stays)
    monkeypatch.setattr(recording, "as_completed", cut)
    with pytest.raises(Problem, match="ended from outside"):
        record_all(tmp_path, ("first", "second", "third"), KITE, Day(), QUIET, ending=".wav")
    assert not multiprocessing.active_children()


def _told_to_end_in_a_destructor() -> None:
    class Closing:
        def __del__(self) -> None:
            os.kill(os.getpid(), signal.SIGTERM)
            time.sleep(0.01)

    recording._begin()
    Closing()
    time.sleep(600)


@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal")
def test_a_process_that_is_told_to_end_while_it_closes_a_file_ends_without_a_word(
    capfd: pytest.CaptureFixture[str],
) -> None:
    spawn = multiprocessing.get_context("spawn")
    process = spawn.Process(target=_told_to_end_in_a_destructor)
    process.start()
    process.join(60)
    process.kill()
    assert (process.exitcode, capfd.readouterr().err) == (0, "")


_LONG = f"""
from pathlib import Path
import sys
from coach.flight.day import Day
from coach.rehearsal.recording import record_all
from coach.settings import USUAL

if __name__ == "__main__":
    library = "first", "second", "lazy-eight", "chandelle"
    try:
        record_all(Path(sys.argv[1]), library, {KITE!r}, Day(loops=9), USUAL, pace=0.5,
                   show=lambda one: print(one.maneuver, flush=True))
    except KeyboardInterrupt:
        print("stopped")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal to a group of processes")
@pytest.mark.parametrize("how", ["ctrl-c at the start", "ctrl-c", "killed"])
def test_whoever_stops_it_finds_whole_files_and_no_process(
    how: str, home: Path, tmp_path: Path, voice: None
) -> None:
    program, folder = tmp_path / "program.py", tmp_path / "recorded"
    program.write_text(_LONG)
    with subprocess.Popen(
        [sys.executable, str(program), str(folder)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    ) as coach:  # fmt: skip
        while not (folder.exists() and ("start" in how or list(folder.glob(".*.part")))):
            assert coach.poll() is None, coach.communicate()
            time.sleep(0.01)
        if how == "killed":
            coach.kill()
        else:
            os.killpg(coach.pid, signal.SIGINT)
        # Both pipes end when the last process that inherited them is gone.
        told, noise = coach.communicate(timeout=120)
    if how != "killed":
        assert told.splitlines()[-1] == "stopped" and noise == ""
    assert not list(folder.glob(".*"))
    for path in folder.glob("*.mp3"):
        assert files.fingerprint(path) and path.with_suffix(".vtt").exists()
        assert np.isfinite(soundfile.read(path)[0]).all()
