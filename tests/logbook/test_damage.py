"""Promises about a damaged run: it is told once and left out, and all the rest goes on."""

from __future__ import annotations

import json
import sqlite3
import zlib
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from coach.logbook.exchange import export, merge
from coach.logbook.logbook import Logbook
from coach.logbook.run import Score
from coach.practice.judging import pasts
from coach.problems import Problem
from tests.logbook.examples import MOMENTS, RUN, TAPS


def packed(value: object) -> str:
    return f"x'{zlib.compress(json.dumps(value).encode()).hex()}'"


def moments(**changed: object) -> str:
    return packed([{**vars(moment), **changed} for moment in MOMENTS])


DAMAGES = {
    "moments that are no pack": "moments = x'00'",
    "moments that are missing": "moments = ''",
    "moments that are no list": f"moments = {packed(7)}",
    "a moment without its values": f"moments = {packed([{'loop': 1}])}",
    "a moment with too many values": f"moments = {moments(colour='red')}",
    "a moment whose time is no number": f"moments = {moments(time_s='soon')}",
    "a moment whose time is not finite": f"moments = {moments(time_s=float('nan'))}",
    "a moment whose time is beyond counting": f"moments = {moments(time_s=10**400)}",
    "moments at one time": f"moments = {moments(time_s=3.0)}",
    "an unknown question": f"moments = {moments(asks=['colour'])}",
    "a trace without its columns": f"trace = {packed({'t_s': [1.0]})}",
    "a trace of nothing": f"trace = {packed(None)}",
    "a trace with holes": f"trace = {packed({**RUN.trace, 'ias_kt': [1.0, None]})}",
    "a trace of unlike columns": f"trace = {packed({**RUN.trace, 'ias_kt': [1.0]})}",
    "a day that is no JSON": "day = '{'",
    "tolerances that are no JSON": "tolerances = '['",
    "tolerances of nothing": "tolerances = '[7]'",
    "tolerances without their values": """tolerances = '[{"of": "speed"}]'""",
    "tolerances below nothing": (
        """tolerances = '[{"of": "speed", "below": -1, "above": 9, "at": [], "source": ""}]'"""
    ),
    "a day that is a list": "day = '[1]'",
    "a start that is no time": "started = 'yesterday'",
    "a start without a zone": "started = '2031-05-04T07:30:00'",
    "a start of bytes": "started = x'01'",
    "a pace of nothing": "pace = 0",
    "a pace in words": "pace = 'slow'",
    "a reach in words": "reached_s = 'far'",
    "an unknown ending": "ended = 'crashed'",
    "a score in words": "checkpoints = 'many', tapped = 1, on_time = 1",
    "a score of more than there is": "checkpoints = 3, tapped = 3, on_time = 3",
    "half a score": "checkpoints = 2, tapped = NULL",
    "a question that is none": f"moments = {moments(asks=[[]])}",
    "a moment in a loop beyond counting": f"moments = {moments(loop=10**30)}",
    "a moment higher than the sky": f"moments = {moments(altitude_ft=1e308)}",
    "a trace beyond counting": f"trace = {packed({**RUN.trace, 'ias_kt': [1.0, 1e308]})}",
    "a trace that goes back": f"trace = {packed({**RUN.trace, 't_s': [1.0, 0.5]})}",
    "a trace cut short": "trace = substr(trace, 1, length(trace) - 3)",
    "a day in a day": """day = '{"wind": {"wind": "calm"}}'""",
    "a start in another millennium": "started = '9999-12-31T23:59:59+00:00'",
    "a pace beyond flying": "pace = 1e300",
    "a reach beyond flying": "reached_s = 1e300",
    "an error beyond counting": "absolute_error_s = 1e300, checkpoints = 2",
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook with three judged runs and one that waits for it."""
    path = tmp_path / "logbook.sqlite3"
    with Logbook(path) as log:
        log.add(
            replace(
                RUN,
                started=RUN.started + timedelta(days=day),
                taps=TAPS,
                pace=1.0,
                ended="finished",
                score=Score(2, 2, 1, 0.2) if day < 3 else None,
            )
            for day in range(4)
        )
    return path


def damage(path: Path, statement: str) -> None:
    with sqlite3.connect(path) as db:
        db.execute(statement)
    db.close()


@pytest.mark.parametrize("number", [2, 4])
@pytest.mark.parametrize("what", DAMAGES)
def test_it_is_told_once_and_left_out(path: Path, tmp_path: Path, what: str, number: int) -> None:
    rest = [other for other in (4, 3, 2, 1) if other != number]
    export_file = tmp_path / "runs.json"
    with Logbook(path) as log:
        export(log, export_file)
    damage(path, f"UPDATE runs SET {DAMAGES[what]} WHERE id = {number}")
    with Logbook(path) as log:
        pasts(log, None)
        assert [run.id for run in log.every()] == rest[::-1]
        assert log.damage.startswith(f"Run {number} is damaged (")
        assert log.damage.endswith(
            "); it is left out of everything, and an export from before brings it back: "
            "coach logbook --import FILE.json."
        )
        with pytest.raises(Problem, match=f"^Run {number} is damaged "):
            log.run(number)
    with Logbook(path) as log:
        (past,) = pasts(log, None)
        assert [line.id for line in past.recent] == rest
        assert past.runs == 3
        assert past.best is not None and past.best.id in rest
        assert [run.id for run in log.runs(3)] == rest
        assert [run.id for run in log.earlier(log.run(rest[0]))] == rest[1:]
        assert log.students() == ("Ada",)
        assert log.unscored() == ()
        assert (log.note, log.damage) == ("", "")
        assert merge(log, export_file).new == 1
        assert past.runs + 1 == log.past("Ada")[0].runs


def test_a_damaged_tap_is_a_damaged_run(path: Path) -> None:
    damage(path, "UPDATE taps SET time_s = 'late' WHERE run = 4 AND value IS NULL")
    with Logbook(path) as log:
        assert [run.id for run in log.runs(1)] == [3]
        assert log.damage.startswith("Run 4 is damaged (")


def test_one_that_was_not_ended_does_not_keep_the_logbook_closed(path: Path) -> None:
    for column in ("trace", "started", "reached_s"):
        damage(path, f"UPDATE runs SET ended = NULL, {column} = x'ff' WHERE id = 4")
        with Logbook(path) as log:
            assert log.note.startswith("Run 4, ")
            assert len(log.runs()) == 3


def test_several_are_one_sentence(path: Path) -> None:
    damage(path, "UPDATE runs SET moments = x'00' WHERE id < 4")
    with Logbook(path) as log:
        assert len(log.runs()) == 1
        assert log.damage.startswith(
            "Run 3 is damaged (its checkpoints cannot be read); it and 2 more are left out"
        )
