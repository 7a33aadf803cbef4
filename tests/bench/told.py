"""Whether a hand is told what it flew: ``python -m tests.bench.told [--seeds 200]``.

What `tests.debrief.hands` puts into a hand, one thing at a time, over the shipped lazy eight to
both sides, and hands without an error over other maneuvers. For each: how many are told it first,
how many exactly (first, nothing besides, within 2 degrees and 0.15 s), how many are told something
besides, and the middle and the largest error of its size. ``--show`` prints what was told wrongly.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence

from tests.debrief.hands import PUT, Side, sizes, tried

SIDES: tuple[Side, ...] = ("right", "left")
OTHERS = ("chandelle", "steep-turn-45", "steep-turn-50")


def cases(sides: Sequence[Side]) -> Iterator[tuple[str, Side, str]]:
    """Every maneuver, side, and what is put in."""
    for side in sides:
        yield from (("lazy-eight", side, what) for what in PUT)
        yield from ((name, side, "nothing") for name in OTHERS)


def main() -> None:
    """Print them."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.told", description=__doc__)
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--side", choices=SIDES, help="only that one")
    parser.add_argument("--first", type=int, default=0, help="the first one's seed")
    parser.add_argument("--only", choices=PUT, nargs="+", help="what is put in")
    parser.add_argument("--show", action="store_true")
    asked = parser.parse_args()
    print(f"{'':15}{'':7}{'put in':30}{'first':>7}{'exactly':>9}{'besides':>9}  deg          s")
    for name, side, what in cases([asked.side] if asked.side else SIDES):
        if asked.only and what not in asked.only:
            continue
        found = []
        for seed in range(asked.first, asked.first + asked.seeds):
            judged, one = tried(name, what, seed, side)
            found.append(one)
            if asked.show and not one.exactly:
                print(f"   {seed}: {one} {judged.largest} {judged.next}")
        first, exactly = (sum(getattr(one, of) for one in found) for of in ("first", "exactly"))
        besides = sum(bool(one.others) for one in found)
        print(
            f"{name:15}{side:7}{what:30}{first:>7}{exactly:>9}{besides:>9}  "
            f"{sizes([one.off_deg for one in found]):13}{sizes([one.off_s for one in found])}",
            flush=True,
        )


if __name__ == "__main__":
    main()
