"""Taking runs out of a logbook and into another one, by files that other programs can read too.

A .json file has everything and can be brought in again: one run a line, the fields those of `Run`
without its number. A .csv file has one row of plain figures a run, for a spreadsheet. Another
logbook can be brought in as well, such as one that was set aside as damaged.

What comes in is looked through here, at the door: all of a file or nothing. Of a .json file every
text is as `coach.logbook.texts.taken` has it, or refused; in a damaged logbook what cannot be shown
is left out, for it is damage and not meant.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from coach.logbook.faults import LONGEST_TEXT, faults
from coach.logbook.logbook import Logbook
from coach.logbook.rescue import readable
from coach.logbook.rows import SCORE
from coach.logbook.run import Run
from coach.logbook.texts import taken
from coach.problems import Problem, ending, written
from coach.words import shown

COLUMNS = (
    *("student", "room", "maneuver", "title", "airplane", "started", "ended", "reached_s"),
    *("pace", "support", "planned", "taps", "said", *SCORE),
)
"""Of a .csv file; `planned`, `taps` and `said` (those by voice) are how many, the rest are fields
of `Run` and `Score`."""

_FORMULA = tuple("=+-@＝＋－＠\t\r")
"""A cell that begins so is worked out by spreadsheets, which can run programs (OWASP, CSV
Injection)."""

_READING = 14
"""So many bytes of memory are taken for each byte of an export while it is read (measured)."""

_NAMES = ("student", "room", "maneuver", "title", "airplane", "support")
"""The fields of `Run` that are texts."""


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
    with written(path, private=True) as part:
        return write((run for run in logbook.every() if student in (None, run.student)), part)


def merge(logbook: Logbook, path: Path) -> Merged:
    """Bring the runs of a .json file in, all of them or none, or what can be read of a logbook.

    A run that the logbook has already (the same student, maneuver and start) stays as it is there.

    Raises:
        Problem: the file cannot be read, or is no whole export; the sentence says where.
    """
    read: dict[str, Callable[[Path], Iterable[Run]]] = {
        ".json": _read_json,
        ".sqlite3": _read_logbook,
    }
    runs, count = read[ending(path, ".json", ".sqlite3")](path), 0

    def counted() -> Iterator[Run]:
        nonlocal count
        for run in runs:
            count += 1
            yield run

    new = logbook.add(counted())
    return Merged(new, count - new)


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
            names = (run.student, run.room, run.maneuver, run.title, run.airplane)
            table.writerow(
                [
                    *(*map(_cell, names), run.started.isoformat()),
                    *(run.ended, run.reached_s, run.pace, _cell(run.support)),
                    *(len(run.moments), len(run.taps)),
                    *(sum(tap.how == "voice" for tap in run.taps), *figures),
                ]
            )
    return count


def _cell(text: str) -> str:
    """A text that a spreadsheet takes for one."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def _read_json(path: Path) -> tuple[Run, ...]:
    from pydantic import TypeAdapter, ValidationError

    try:
        _fits(path.stat().st_size)
        text = path.read_bytes()
        runs = TypeAdapter(_File).validate_json(text, strict=True).runs
        json.loads(text, object_pairs_hook=_once)  # the other takes the last of two
        return tuple(_taken(run, number) for number, run in enumerate(runs, 1))
    except OSError as error:
        raise Problem(f"{path}: {error.strerror or error}.") from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        why = f"{_place(first['loc'])}{first['msg'][0].lower()}{first['msg'][1:]}"
    except RecursionError:
        why = "it is nested too deep"
    except MemoryError:
        raise Problem(f"{path}: too large for this machine's memory.") from None
    except ValueError as error:
        why = str(error)
    raise Problem(f"{path}: no whole export of a logbook: {shown(why)}.")


def _read_logbook(path: Path) -> Iterator[Run]:
    """One at a time: what hands flew in all of them may be larger than this machine's memory."""
    found = False
    try:
        for run in readable(path):
            taken_in, found = _taken(run, run.id or 0), True
            yield taken_in
    except OSError as error:
        raise Problem(f"{path}: {error.strerror or error}.") from None
    except ValueError as error:
        raise Problem(f"{path}: {error}.") from None
    if not found:
        raise Problem(f"{path}: no run can be read in it.")


def _fits(size: int) -> None:
    """Raises MemoryError rather than have the system end the coach."""
    import psutil

    if size * _READING > psutil.virtual_memory().available:
        raise MemoryError


def _once(pairs: list[tuple[str, object]]) -> None:
    """Raises ValueError where something is said twice in one place."""
    names = set()
    for name, _ in pairs:
        if name in names:
            raise ValueError(f"'{name}' stands twice in one place")
        names.add(name)


def _taken(run: Run, number: int) -> Run:
    """A run from outside, with its texts as they are kept.

    Raises:
        ValueError: it cannot be kept; the sentence says which run and why.
    """

    def text(found: str, what: str) -> str:
        try:
            kept = taken(found)
        except ValueError as error:
            raise ValueError(f"run {number} {what}: {error}") from None
        if len(kept) > LONGEST_TEXT:
            raise ValueError(f"run {number} {what}: {len(kept)} letters, {LONGEST_TEXT} at most")
        return kept

    for fault in faults(run):
        raise ValueError(f"run {number}: {fault}")
    names: dict[str, Any] = {name: text(getattr(run, name), name) for name in _NAMES}
    return replace(
        run,
        **names,
        moments=tuple(
            replace(moment, name=text(moment.name, "moments name")) for moment in run.moments
        ),
        taps=tuple(
            replace(tap, said=text(tap.said, "taps said")) if tap.said else tap for tap in run.taps
        ),
        tolerances=tuple(
            replace(
                one,
                at=tuple(text(name, "tolerances at") for name in one.at),
                source=text(one.source, "tolerances source"),
            )
            for one in run.tolerances
        ),
        day={
            text(name, "day"): text(value, f"day {name}") if isinstance(value, str) else value
            for name, value in run.day.items()
        },
    )


def _place(at: tuple[int | str, ...]) -> str:
    """Where in the file: lists are counted from 1."""
    words = " ".join(str(part + 1) if isinstance(part, int) else part for part in at)
    return f"{words.replace('runs', 'run', 1)}: " if words else ""
