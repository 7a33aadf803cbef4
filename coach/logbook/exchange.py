"""Taking runs out of a logbook and into another one, by files that other programs can read too.

A .json file has everything and can be brought in again: one run a line, the fields those of `Run`
without its number. A .csv file has one row of plain figures a run, for a spreadsheet. Another
logbook can be brought in as well, such as one that was set aside as damaged.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from coach.logbook.faults import faults
from coach.logbook.logbook import Logbook
from coach.logbook.rescue import readable
from coach.logbook.rows import SCORE
from coach.logbook.run import Run
from coach.problems import Problem, ending, written

COLUMNS = (
    *("student", "maneuver", "title", "airplane", "started", "ended", "reached_s"),
    *("pace", "support", "planned", "taps", "said", *SCORE),
)
"""Of a .csv file; `planned`, `taps` and `said` (those by voice) are how many, the rest are fields
of `Run` and `Score`."""


@dataclass(frozen=True)
class Merged:
    """How many runs of a file were new to the logbook, and how many it had already."""

    new: int
    known: int


@dataclass(frozen=True)
class _File:
    logbook: Literal[1]
    runs: tuple[Run, ...]


def export(logbook: Logbook, path: Path, student: str | None = None) -> int:
    """Write every run of a student, or of everybody for None, oldest first, to a file.

    Args:
        logbook: whose runs they are.
        path: a .json or a .csv file.
        student: "" for the runs without a name.

    Returns:
        How many runs there were.

    Raises:
        Problem: the file has another ending or cannot be written.
    """
    write = {".json": _write_json, ".csv": _write_csv}[ending(path, ".json", ".csv")]
    with written(path) as part:
        return write((run for run in logbook.every() if student in (None, run.student)), part)


def merge(logbook: Logbook, path: Path) -> Merged:
    """Bring the runs of a .json file in, all of them or none, or what can be read of a logbook.

    A run that the logbook has already (the same student, maneuver and start) stays as it is there.

    Raises:
        Problem: the file cannot be read, or is no whole export; the sentence says where.
    """
    read = {".json": _read_json, ".sqlite3": _read_logbook}[ending(path, ".json", ".sqlite3")]
    runs = read(path)
    new = logbook.add(runs)
    return Merged(new, len(runs) - new)


def _write_json(runs: Iterable[Run], path: Path) -> int:
    from pydantic import TypeAdapter

    adapter, count = TypeAdapter(Run), 0
    with path.open("wb") as file:
        file.write(b'{"logbook": 1, "runs": [')
        for count, run in enumerate(runs, 1):
            file.write(b"\n" if count == 1 else b",\n")
            file.write(adapter.dump_json(run, exclude={"id"}))
        file.write(b"\n]}\n")
    return count


def _write_csv(runs: Iterable[Run], path: Path) -> int:
    count = 0
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(COLUMNS)
        for run in runs:
            count += 1
            figures = [getattr(run.score, name) if run.score else None for name in SCORE]
            table.writerow(
                [
                    *(run.student, run.maneuver, run.title, run.airplane, run.started.isoformat()),
                    *(run.ended, run.reached_s, run.pace, run.support),
                    *(len(run.moments), len(run.taps)),
                    *(sum(tap.how == "voice" for tap in run.taps), *figures),
                ]
            )
    return count


def _read_json(path: Path) -> tuple[Run, ...]:
    from pydantic import TypeAdapter, ValidationError

    try:
        runs = TypeAdapter(_File).validate_json(path.read_bytes(), strict=True).runs
    except OSError as error:
        raise Problem(f"{path}: {error.strerror or error}.") from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        said = first["msg"][0].lower() + first["msg"][1:]
        raise Problem(
            f"{path}: no whole export of a logbook: {_place(first['loc'])}{said}."
        ) from None
    for number, run in enumerate(runs, 1):
        for fault in faults(run):
            raise Problem(f"{path}: no whole export of a logbook: run {number}: {fault}.")
    return runs


def _read_logbook(path: Path) -> tuple[Run, ...]:
    try:
        runs = tuple(readable(path))
    except OSError as error:
        raise Problem(f"{path}: {error.strerror or error}.") from None
    if not runs:
        raise Problem(f"{path}: no run can be read in it.")
    return runs


def _place(at: tuple[int | str, ...]) -> str:
    """Where in the file: lists are counted from 1."""
    words = " ".join(str(part + 1) if isinstance(part, int) else part for part in at)
    return f"{words.replace('runs', 'run', 1)}: " if words else ""
