"""Promises of export and import: nothing lost, nothing twice, and nothing foreign let in."""

from __future__ import annotations

import csv
import json
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.hand.motion import Motion
from coach.logbook.exchange import Merged, export, merge
from coach.logbook.faults import FIGURE, PACE, TIME_S
from coach.logbook.logbook import Logbook
from coach.logbook.run import HEADING, TRACE_COLUMNS, Run, Score
from coach.logbook.texts import taken
from coach.problems import Problem
from coach.script.asked import ASKED
from coach.script.tolerance import Tolerance
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard
from tests.logbook.examples import MOMENTS, RUN, TAPS, TOLERANCES, UNHEARD

WHOLE = replace(
    RUN,
    trace={column: [0.0, 1.25] for column in (*TRACE_COLUMNS, HEADING)},
    tolerances=TOLERANCES,
    taps=TAPS,
    unheard=UNHEARD,
    ended="finished",
    reached_s=20.0,
    score=Score(2, 2, 1, 0.31),
)

letters = st.characters(exclude_categories=["C", "Z"])
names = st.text(letters, max_size=8).map(taken)
times = st.floats(*TIME_S)
figures = st.floats(*FIGURE)
taps = st.builds(
    Tap,
    times,
    st.none() | figures,
    st.sampled_from(["key", "voice"]),
    st.none() | figures,
    st.none() | names,
)
stretches = st.lists(times, min_size=2, max_size=2).map(
    lambda ends: Unheard(min(ends), max(ends), "not understood")
)
bounds = st.floats(0.0, FIGURE[1])
tolerances = st.builds(
    Tolerance,
    st.sampled_from([*ASKED]),
    bounds,
    bounds.filter(bool),
    st.lists(names, max_size=2).map(tuple),
    names,
)
motions = st.lists(
    st.tuples(st.integers(-60_000, 36_000_000), *[st.integers(-18_000, 18_000)] * 2),
    max_size=4,
    unique_by=lambda row: row[0],
).map(
    lambda rows: Motion(
        tuple(round(time * 0.001, 3) for time, _, _ in sorted(rows)),
        tuple(round(pitch * 0.01, 3) for _, pitch, _ in sorted(rows)),
        tuple(round(bank * 0.01, 3) for _, _, bank in sorted(rows)),
        0.03 if rows else 0.0,
    )
)
days = st.dictionaries(names, names | st.integers(-9, 9) | st.none() | st.booleans(), max_size=3)
zones = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
starts = st.datetimes(datetime(1970, 1, 1), datetime(2099, 12, 31), timezones=zones)
runs = st.builds(
    Run,
    student=names,
    maneuver=names,
    title=names,
    airplane=names,
    support=names,
    room=names,
    started=starts,
    moments=st.sampled_from([(), MOMENTS, (replace(MOMENTS[0], asks=("bank", "speed")),)]),
    trace=st.lists(figures, max_size=3)
    .map(sorted)
    .map(lambda column: dict.fromkeys(TRACE_COLUMNS, column)),
    day=days,
    pace=st.floats(*PACE),
    taps=st.lists(taps, max_size=3).map(tuple),
    unheard=st.lists(stretches, max_size=1).map(tuple),
    motion=motions,
    tolerances=st.lists(tolerances, max_size=1).map(tuple),
    ended=st.sampled_from(["finished", "stopped", "interrupted"]),
    reached_s=times,
    score=st.none() | st.builds(Score, *[st.just(0)] * 3, st.none() | figures),
    id=st.none(),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(runs, max_size=4, unique_by=lambda run: run.started))
def test_an_export_brought_into_an_empty_logbook_gives_the_same_export(kept: list[Run]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        here, there = Path(folder) / "here.json", Path(folder) / "there.json"
        with Logbook(Path(folder) / "one.sqlite3") as one:
            one.add(kept)
            assert export(one, here) == len(kept)
        with Logbook(Path(folder) / "two.sqlite3") as two:
            assert merge(two, here) == Merged(len(kept), 0)
            export(two, there)
            assert there.read_bytes() == here.read_bytes()
            assert merge(two, here) == Merged(0, len(kept))
            export(two, there)
        assert there.read_bytes() == here.read_bytes()


def test_two_logbooks_become_one_whose_runs_are_in_the_order_of_their_starts(
    tmp_path: Path,
) -> None:
    morning = [replace(WHOLE, started=WHOLE.started + timedelta(hours=n)) for n in range(4)]
    with Logbook(tmp_path / "one.sqlite3") as one, Logbook(tmp_path / "two.sqlite3") as two:
        one.add([morning[0], morning[2]])
        # The same moment in another place: seven in the morning there is not before ten here.
        there = timezone(timedelta(hours=-7))
        two.add(
            [
                morning[1],
                morning[2],
                replace(morning[3], started=morning[3].started.astimezone(there)),
            ]
        )
        export(two, tmp_path / "two.json")
        assert merge(one, tmp_path / "two.json") == Merged(2, 1)
        assert [run.started for run in one.runs()] == [run.started for run in morning[::-1]]
        last = one.last()
        assert last is not None
        assert [run.started.hour for run in one.earlier(last)] == [9, 8, 7]
        assert [run.taps for run in one.runs()] == [TAPS] * 4


def test_a_spreadsheet_has_one_row_a_run_with_its_plain_figures(tmp_path: Path) -> None:
    with Logbook(tmp_path / "one.sqlite3") as one:
        one.add([WHOLE, replace(WHOLE, student='Bo, "the kite"', score=None)])
        assert export(one, tmp_path / "runs.csv") == 2
    with (tmp_path / "runs.csv").open(newline="", encoding="utf-8") as file:
        first, second = csv.DictReader(file)
    assert first == {
        "student": "Ada", "maneuver": "lazy-eight", "title": "Lazy eight",
        "airplane": "Meadow Four", "started": "2031-05-04T07:30:00+02:00", "ended": "finished",
        "reached_s": "20.0", "pace": "0.8", "support": "checkpoints only", "planned": "2",
        "taps": "3", "said": "1", "checkpoints": "2", "tapped": "2", "on_time": "1", "absolute_error_s": "0.31", "flown": "0",
            "room": "",
    }  # fmt: skip
    assert (second["student"], second["on_time"]) == ('Bo, "the kite"', "")


def changed(change: Callable[[dict[str, Any]], object]) -> Callable[[str], str]:
    """The export with something done to its second run."""

    def harm(text: str) -> str:
        content = json.loads(text)
        change(content["runs"][1])
        return json.dumps(content)

    return harm


@pytest.mark.parametrize(
    ("harm", "sentence"),
    [
        (lambda text: "", r"invalid JSON: EOF .* at line 1 column 0\."),
        (lambda text: text[:1000], r"invalid JSON: EOF .* at line 2 column \d+\."),
        (lambda text: '["recipes"]', r"input should be an object\."),
        (lambda text: '{"logbook": 2, "runs": []}', r"logbook: input should be 1\."),
        (changed(lambda run: run.pop("title")), r"run 2 title: field required\."),
        (changed(lambda run: run.update(pace="fast")), r"run 2 pace: input should be a valid number\."),
        (changed(lambda run: run.update(pace=0.0)), r"run 2: its pace must be a number from 0\.1 to 10\."),
        (changed(lambda run: run["taps"][1].update(how="foot")), r"run 2 taps 2 how: input should be 'key' or 'voice'\."),
        (changed(lambda run: run.update(started="2031-05-04T07:30:00")), r"run 2: its start has no time zone\."),
        (changed(lambda run: run["trace"].pop("ias_kt")), r"run 2: its trace must have the columns t_s,"),
        (changed(lambda run: run["trace"].update(t_s=[0.0])), r"run 2: its trace must have the columns t_s,"),
        (changed(lambda run: run["moments"].reverse()), r"run 2: its checkpoints must be in the order"),
        (changed(lambda run: run["score"].update(on_time=3)), r"run 2: its score counts more"),
        (changed(lambda run: run["taps"][0].update(time_s=float("inf"))), r"run 2: its taps must have times from -60 to 36,000 s"),
        (changed(lambda run: run["unheard"][0].update(why="asleep")), r"run 2 unheard 1 why: input should be 'not understood'"),
        (changed(lambda run: run["unheard"][0].update(to_s=1.0)), r"run 2: its unheard passages must have times from -60 to 36,000 s, in"),
        (changed(lambda run: run["tolerances"][0].update(of="colour")), r"run 2: its tolerances must be of a number that is asked for|run 2 tolerances 1 of: input should be"),
        (changed(lambda run: run["tolerances"][0].update(above=-1.0)), r"run 2: its tolerances must be of a number"),
        (changed(lambda run: run["tolerances"][0].update(above=0.0)), r"run 2: its tolerances must be of a number"),
        (changed(lambda run: run["tolerances"][0].update(source="\x1b[2J")), r"run 2 tolerances source: found the character U\+001B"),
        (changed(lambda run: run.update(student="\x1b[2J")), r"run 2 student: found the character U\+001B, which cannot be shown\."),
    ],
)  # fmt: skip
def test_what_is_no_whole_export_is_told_with_its_place_and_nothing_is_brought_in(
    tmp_path: Path, harm: Callable[[str], str], sentence: str
) -> None:
    later = replace(WHOLE, started=WHOLE.started + timedelta(hours=1))
    path = tmp_path / "mine.json"
    with Logbook(tmp_path / "one.sqlite3") as one:
        one.add([WHOLE, later])
        export(one, path)
    path.write_text(harm(path.read_text()), encoding="utf-8")
    with Logbook(tmp_path / "two.sqlite3") as two:
        with pytest.raises(Problem, match=rf"mine\.json: no whole export of a logbook: {sentence}"):
            merge(two, path)
        assert two.runs() == ()


def test_a_file_that_cannot_be_read_or_written_is_one_sentence(tmp_path: Path) -> None:
    with Logbook(tmp_path / "one.sqlite3") as one:
        with pytest.raises(Problem, match="No such file"):
            merge(one, tmp_path / "none.json")
        with pytest.raises(Problem, match=r"must end in \.json or \.sqlite3\."):
            merge(one, tmp_path / "runs.csv")
        with pytest.raises(Problem, match=r"must end in \.json or \.csv\."):
            export(one, tmp_path / "runs.txt")
        with pytest.raises(Problem, match="cannot be written"):
            export(one, tmp_path / "nowhere" / "runs.json")
