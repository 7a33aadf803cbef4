"""Promises about what an import lets in: all of it clean and possible, or nothing, in a sentence."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import psutil
import pytest

from coach.hand.motion import Motion
from coach.logbook.exchange import export, merge
from coach.logbook.logbook import Logbook
from coach.logbook.run import Score
from coach.problems import Problem
from tests.logbook.examples import RUN, TAPS

MOTION = Motion((0.0, 0.5), (1.0, 2.0), (3.0, 4.0), 0.02)
WHOLE = replace(
    RUN, motion=MOTION, taps=TAPS, ended="finished", reached_s=20.0, score=Score(2, 2, 1, 0.3)
)


@pytest.fixture
def export_file(tmp_path: Path) -> Path:
    """An export of one run."""
    path = tmp_path / "mine.json"
    with Logbook(tmp_path / "one.sqlite3") as one:
        one.add([WHOLE])
        export(one, path)
    return path


def changed(path: Path, change: Callable[[dict[str, Any]], object]) -> None:
    content = json.loads(path.read_text())
    change(content["runs"][0])
    path.write_text(json.dumps(content))


Change = Callable[[dict[str, Any]], object]

IMPOSSIBLE: dict[str, tuple[Change, str]] = {
    "the year 9999": (
        lambda run: run.update(started="9999-12-31T23:59:59Z"),
        "run 1: its start must be in the years 1970 to 2099.",
    ),
    "the year 1": (
        lambda run: run.update(started="0001-01-01T00:00:00+14:00"),
        "run 1: its start must be in the years 1970 to 2099.",
    ),
    "an altitude of 1e308": (
        lambda run: run["moments"][0].update(altitude_ft=1e308),
        "run 1: its checkpoints must have times from -60 to 36,000 s and figures from -1e+06 to "
        "1e+06.",
    ),
    "a pace of 1e308": (
        lambda run: run.update(pace=1e308),
        "run 1: its pace must be a number from 0.1 to 10.",
    ),
    "an endless loop": (
        lambda run: run["moments"][0].update(loop=10**40),
        "run 1: its checkpoints must have a name, and a loop from 0 to 1,000.",
    ),
    "too many taps": (
        lambda run: run.update(taps=run["taps"] * 7000),
        "run 1: it has 21,000 taps, 20,000 at most.",
    ),
    "a day in a day": (
        lambda run: run["day"].update(wind={"from": "west"}),
        "run 1: its day must be words and figures by their names.",
    ),
    "a checkpoint that clears the screen": (
        lambda run: run["moments"][1].update(name="\x1b[2J90"),
        "run 1 moments name: found the character U+001B, which cannot be shown.",
    ),
    "a bell in what was said": (
        lambda run: run["taps"][2].update(said="speed\x07"),
        "run 1 taps said: found the character U+0007, which cannot be shown.",
    ),
    "a bell in the day": (
        lambda run: run["day"].update(wind="calm\x07"),
        "run 1 day wind: found the character U+0007, which cannot be shown.",
    ),
    "a hand that goes back in time": (
        lambda run: run["motion"].update(time_s=[0.5, 0.0]),
        "run 1: of its motion its times must increase.",
    ),
    "a hand without a bank": (
        lambda run: run["motion"].update(bank_deg=[]),
        "run 1: of its motion it must have as many angles as times, and at most 500,000.",
    ),
    "a hand that turns round and round": (
        lambda run: run["motion"].update(bank_deg=[0.0, 1e308]),
        "run 1: of its motion its angles must be within 360 degrees.",
    ),
    "a hand whose clocks are lost": (
        lambda run: run["motion"].update(doubt_s=-1.0),
        "run 1: of its motion its doubt must not be negative.",
    ),
    "a novel for a title": (
        lambda run: run.update(title="Lazy eight " * 30),
        "run 1 title: 329 letters, 200 at most.",
    ),
    "a trace with a name that rings": (
        lambda run: run["trace"].update({"\x07": ["high"]}),
        "run 1 trace \N{REPLACEMENT CHARACTER} 1: input should be a valid number.",
    ),
}


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_what_cannot_be_is_refused_with_its_run_and_nothing_is_brought_in(
    export_file: Path, tmp_path: Path, what: str
) -> None:
    change, sentence = IMPOSSIBLE[what]
    changed(export_file, change)
    with Logbook(tmp_path / "two.sqlite3") as two:
        with pytest.raises(Problem) as problem:
            merge(two, export_file)
        assert str(problem.value) == f"{export_file}: no whole export of a logbook: {sentence}"
        assert two.runs() == ()


def test_texts_come_in_clean(export_file: Path, tmp_path: Path) -> None:
    def unclean(run: dict[str, Any]) -> None:
        run.update(student="Ada\u00a0Field", title="Lazy\u200b eight", room="\u3164")
        run["moments"][0]["name"] = "45\u2028"

    changed(export_file, unclean)
    with Logbook(tmp_path / "two.sqlite3") as two:
        merge(two, export_file)
        (run,) = two.runs()
        assert (run.student, run.title, run.moments[0].name) == ("Ada Field", "Lazy eight", "45")
        assert run.room == "\N{REPLACEMENT CHARACTER}"
        assert (merge(two, export_file).new, len(two.runs())) == (0, 1)


def test_an_export_from_before_there_were_rooms_is_read(export_file: Path, tmp_path: Path) -> None:
    changed(export_file, lambda run: run.pop("room"))
    with Logbook(tmp_path / "two.sqlite3") as two:
        assert merge(two, export_file).new == 1
        assert two.runs()[0].room == ""


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('{"logbook": 1, "runs": [], "runs": []}', "'runs' stands twice in one place."),
        ('{"logbook": 1, "x": ' + "[" * 9000 + "]" * 9000 + ', "runs": []}', "recursion limit"),
        ('{"logbook": 1, "runs": [], "x": ' + "9" * 5000 + "}", "out of range"),
        ('{"logbook": 1, "runs": [{"title": "\\ud800"}]}', "hex escape"),
    ],
)
def test_a_file_that_is_made_to_confuse_is_one_sentence(
    tmp_path: Path, text: str, sentence: str
) -> None:
    path = tmp_path / "mine.json"
    path.write_text(text)
    with (
        Logbook(tmp_path / "two.sqlite3") as two,
        pytest.raises(Problem, match=f"no whole export of a logbook: .*{sentence}"),
    ):
        merge(two, path)


def test_a_file_that_is_larger_than_the_memory_is_not_begun(
    export_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    little = psutil.virtual_memory()._replace(available=10_000)
    monkeypatch.setattr(psutil, "virtual_memory", lambda: little)
    with (
        Logbook(tmp_path / "two.sqlite3") as two,
        pytest.raises(Problem, match=r"mine\.json: too large for this machine's memory\.$"),
    ):
        merge(two, export_file)


def test_a_logbook_is_looked_through_as_it_is_brought_in(tmp_path: Path) -> None:
    with Logbook(tmp_path / "one.sqlite3") as one:
        one.add([replace(WHOLE, student="Ada\u00a0\x1bField"), replace(WHOLE, student="Bo")])
        one._db.execute("UPDATE runs SET pace = 1e300 WHERE id = 2")
    shutil.copyfile(tmp_path / "one.sqlite3", tmp_path / "other.sqlite3")
    with Logbook(tmp_path / "two.sqlite3") as two:
        assert merge(two, tmp_path / "other.sqlite3").new == 1
        assert [run.student for run in two.runs()] == ["Ada Field"]


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "＝", "＋", "－", "＠", "\t", "\r"])
def test_no_cell_of_a_spreadsheet_is_a_formula(tmp_path: Path, sign: str) -> None:
    evil = f"{sign}cmd|' /C calc'!A0"
    names = dict.fromkeys(("student", "room", "maneuver", "title", "airplane", "support"), evil)
    early = replace(WHOLE, reached_s=-1.5, motion=Motion())
    with Logbook(tmp_path / "one.sqlite3") as one:
        # Past the door, for what stood in a file before there was one.
        one.add([replace(early, **names)])  # type: ignore[arg-type]
        one._db.execute("DELETE FROM taps")
        export(one, tmp_path / "runs.csv")
    with (tmp_path / "runs.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    for name in names:
        assert not row[name].startswith((*"=+-@＝＋－＠\t\r",)), row[name]
    assert row["student"].endswith("cmd|' /C calc'!A0")
    assert float(row["reached_s"]) == 0.0 and float(row["pace"]) == 0.8
