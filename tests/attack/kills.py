"""An attack with kills: a coach that writes is killed, and every tap that it told of is there.

Run as ``python -m tests.attack.kills --seed N --count M``: it prints how many were tried and what
failed, and the first that did.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from pathlib import Path

from coach.logbook.logbook import Logbook
from tests.logbook.examples import keeps_what_was_told_when_killed


def attack(seed: int, count: int) -> list[str]:
    """Kill so many coaches at any moment, one after another in one logbook; what went wrong."""
    dice, told = random.Random(seed), []
    with tempfile.TemporaryDirectory(prefix="kills") as folder:
        path = Path(folder, "logbook.sqlite3")
        for number in range(count):
            taps, then_s = dice.randint(1, 40), dice.uniform(0.0, 0.03)
            try:
                keeps_what_was_told_when_killed(path, taps, then_s)
            except AssertionError as error:
                told.append(f"{seed}/{number}: {taps} taps and {then_s:.4f} s: {error}")
        with Logbook(path) as book:
            whole = book._db.execute("PRAGMA integrity_check").fetchone()[0]
            if len(list(book.every())) != count or whole != "ok" or book.damage:
                told.append(f"{seed}: {book.damage or whole}")
    return told


def main() -> None:
    """Attack, and print the row of a table."""
    parser = argparse.ArgumentParser(description="Attack with kills.")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, required=True)
    given = parser.parse_args()
    told = attack(given.seed, given.count)
    for line in told[:20]:
        print(line)
    print(
        f"kills: seed {given.seed}, tried {given.count}: with a tap lost or a file hurt {len(told)}"
    )
    sys.exit(bool(told))


if __name__ == "__main__":
    main()
