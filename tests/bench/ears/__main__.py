"""How well the coach hears: ``python -m tests.bench.ears --out FILE --spoken FOLDER``.

Voices that nothing was tuned on (`tests.ears.speakers.FRESH`), noises at three distances, all
through the recogniser's own process code, faster than real time. Every phrase is a line of FILE,
written as it comes; what is there already is not measured again. ``--table FILE`` prints what is
there, and ``--before FILE`` beside it another file's, on the samples that both have. FOLDER keeps
what the voices speak: two checkouts that share it hear the same samples.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.bench.ears.outcome import kept, outcomes
from tests.bench.ears.samples import ROOMS, SETS
from tests.bench.ears.table import compared, tables
from tests.ears.listening import listen
from tests.ears.speakers import FRESH, keep_in, missing

PHRASES = 150


def options() -> argparse.Namespace:
    """What the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ears", description=__doc__)
    parser.add_argument("--out", type=Path, help="the file of outcomes")
    parser.add_argument("--table", type=Path, nargs="+", help="only print these files' outcomes")
    parser.add_argument("--before", type=Path, help="another file to print beside that")
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    parser.add_argument("--only", nargs="+", metavar="ROOM", choices=ROOMS, default=ROOMS)
    parser.add_argument("--set", nargs="+", choices=[*SETS], default=[*SETS])
    parser.add_argument("--phrases", type=int, default=PHRASES, help="so many in each room")
    return parser.parse_args()


def main() -> None:
    """Measure, or print what was measured."""
    asked = options()
    if asked.table:
        found = [one for file in asked.table for one in kept(file)]
        print("\n".join(compared(kept(asked.before), found) if asked.before else tables(found)))
        return
    for voice, _ in FRESH:
        if reason := missing(voice):
            print(f"{voice} is left out: {reason} is not installed")
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder, "spoken"))
        out = asked.out or Path(folder, "outcomes")
        for room in asked.only:
            for kind in asked.set:
                measure(kind, room, asked.phrases, out)
        print("\n".join(tables(kept(out))))


def measure(kind: str, room: str, count: int, out: Path) -> None:
    """Add to a file what is not yet in it."""
    known = {one.number for one in kept(out) if (one.set, one.room) == (kind, room)}
    with out.open("a") as file:
        for one in outcomes(kind, room, count, listen, known):
            if one.number not in known:
                print(one.line, file=file, flush=True)


if __name__ == "__main__":
    main()
