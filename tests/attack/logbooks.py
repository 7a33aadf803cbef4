"""An attack with damaged logbooks: whatever of one can be read is kept, and every command goes on.

A logbook is killed as it is written to, so that a part lies in its write-ahead log; then bytes of
either file are turned over, overwritten or cut off. What is lost is compared with what SQLite alone
reads of the damaged files, run by run. Run as ``python -m tests.attack.logbooks --seed N --count
M``: it prints how many were tried and what failed, and the first of each kind that did.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import sqlite3
import sys
import tempfile
import traceback
import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from coach.commands.cli import main as coach
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run, Score
from coach.taps.tap import Tap
from tests.logbook.examples import RUN

FAILURES = ("traceback", "lost", "changed", "control bytes", "noise")

RUNS = 24
FILE = "logbook.sqlite3"

Row = tuple[Any, ...]


def _runs() -> Iterator[Run]:
    dice = random.Random(7)
    for number in range(RUNS):
        yield replace(
            RUN,
            student=("Ada", "Bo")[number % 2],
            room=("", "Blue")[number // 2 % 2],
            started=RUN.started + timedelta(days=number),
            trace={
                column: [0.5 * row for row in range(260)]
                if column == "t_s"
                else [round(dice.uniform(0.0, 200.0), 2) for _ in range(260)]
                for column in RUN.trace
            },
            taps=tuple(Tap(round(1.0 + tap + dice.random(), 3)) for tap in range(8)),
            ended="finished",
            reached_s=130.0,
            score=Score(2, 1, dice.randint(0, 1), 0.25),
        )


def _made(folder: Path) -> None:
    """A logbook in there, two thirds of it in the file and the rest beside it."""
    runs = list(_runs())
    with Logbook(folder / "first" / FILE) as book:
        book.add(runs[: 2 * RUNS // 3])
    shutil.copytree(folder / "first", folder / "whole")
    with Logbook(folder / "whole" / FILE) as book:
        book.add(runs[2 * RUNS // 3 :])
        shutil.copytree(folder / "whole", folder / "open")


def _rows(path: Path) -> dict[int, Row]:
    """What SQLite alone reads of each run: its whole row, and its taps."""
    found: dict[int, Row] = {}
    with contextlib.closing(sqlite3.connect(path)) as db:
        for number in range(1, RUNS + 1):
            with contextlib.suppress(sqlite3.Error):
                row = db.execute("SELECT * FROM runs WHERE id = ?", (number,)).fetchone()
                taps = db.execute(
                    "SELECT * FROM taps NOT INDEXED WHERE run = ? ORDER BY rowid", (number,)
                ).fetchall()
                if row is not None:
                    found[number] = (row, tuple(taps))
    return found


def _damaged(dice: random.Random, folder: Path) -> str:
    """Damage a logbook's files; what was done to them, in words."""
    told = []
    for _ in range(dice.choice((1, 1, 2))):
        path = folder / dice.choice((FILE, FILE, f"{FILE}-wal"))
        content = bytearray(path.read_bytes())
        if not content:
            continue
        at, how = dice.randrange(len(content)), dice.choice(("turned", "over", "cut", "zeros"))
        length = dice.choice((1, 16, 4096, 20_000))
        if how == "turned":
            for _ in range(dice.choice((1, 8, 64))):
                content[dice.randrange(len(content))] ^= 1 << dice.randrange(8)
        elif how == "cut":
            del content[at:]
        else:
            noise = dice.randbytes(length) if how == "over" else bytes(length)
            content[at : at + length] = noise[: len(content) - at]
        path.write_bytes(content)
        told.append(f"{path.name} {how} at {at}")
    return ", ".join(told)


def attack(seed: int, count: int) -> tuple[Counter[str], list[str]]:
    """Damage so many, and ask each for everything."""
    failed: Counter[str] = Counter()
    told: list[str] = []

    def fails(which: str, case: str, why: str) -> None:
        failed[which] += 1
        if failed[which] <= 10:
            told.append(f"{which}: {case}: {why}")

    before = os.environ.get("COACH_HOME")
    with tempfile.TemporaryDirectory(prefix="logbooks") as name:
        folder = Path(name)
        _made(folder)
        shutil.copytree(folder / "open", folder / "sound")
        sound = _rows(folder / "sound" / FILE)
        assert len(sound) == RUNS
        try:
            for number in range(count):
                dice = random.Random(f"{seed}/{number}")
                home = folder / str(number)
                shutil.copytree(folder / "open", home)
                done = _damaged(dice, home)
                shutil.copytree(home, folder / "seen")
                left = _rows(folder / "seen" / FILE)
                shutil.rmtree(folder / "seen")
                os.environ["COACH_HOME"] = str(home)
                for which, why in _one(home, sound, left):
                    fails(which, f"{seed}/{number} ({done})", why)
                shutil.rmtree(home)
        finally:
            if before is not None:
                os.environ["COACH_HOME"] = before
    return failed, told


def _one(home: Path, sound: dict[int, Row], left: dict[int, Row]) -> Iterator[tuple[str, str]]:
    for words in (
        *(["logbook"], ["logbook", "--student", "Ada"], ["debrief"], ["debrief", "5", "--json"]),
        *(["logbook", "--export", str(home / "out.json")],),
        *(["logbook", "--export", str(home / "out.csv")],),
        *(["logbook", "--import", str(home / "out.json")],),
    ):
        result = CliRunner().invoke(coach, words)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            yield "traceback", "".join(traceback.format_exception(result.exception))
        bad = {one for one in result.output if one != "\n" and unicodedata.category(one) == "Cc"}
        if bad:
            yield "control bytes", repr(bad)
        if result.exit_code and not result.stderr.splitlines()[-1].startswith("Error: "):
            yield "noise", result.stderr[-300:]
    with Logbook() as book:
        kept = {run.started: run for run in book.every()}
    whole = {run.started: run for run in _runs()}
    for number, row in left.items():
        started = RUN.started + timedelta(days=number - 1)
        if row == sound[number] and started not in kept:
            yield "lost", f"run {number}"
    for started, run in kept.items():
        # SQLite has no checksums: of what it reads without complaint only the packed parts are sure.
        if started in whole and whole[started].moments != run.moments:
            yield "changed", f"run {run.id}"


def main() -> None:
    """Attack, and print the row of a table."""
    parser = argparse.ArgumentParser(description="Attack with damaged logbooks.")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    given = parser.parse_args()
    failed, told = attack(given.seed, given.count)
    for line in told[:40]:
        print(line)
    cells = ", ".join(f"{which} {failed[which]}" for which in FAILURES)
    print(f"logbooks: seed {given.seed}, tried {given.count}: {cells}")
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
