"""Forty invented students' debriefs to be read: ``python -m tests.bench.debriefs``.

Each with what was done and what a coach can know of it, and then what it says. ``--count`` and
``--first`` choose others. With ``--aloud`` so many of them are voices in a room instead, who answer
the questions of a lazy eight, and are told what the ears make of that; ``--spoken FOLDER`` keeps
what is spoken.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from coach.debrief.debrief import debrief
from coach.ears.passages import placed
from coach.logbook.run import Run
from coach.taps.unheard import Unheard
from tests.bench.ears.samples import in_room
from tests.bench.rehearsed import rehearsal
from tests.debrief.simulated import Simulated, blank, simulated
from tests.ears.listening import listen
from tests.ears.speakers import FRESH, keep_in, missing
from tests.ears.students import mistaken, student

ALOUD_IN = ("quiet", "fan 10", "babble 10", "engine 5")


def known(student: Simulated) -> Iterator[str]:
    """The truth."""
    run = student.run
    yield (
        f"{student.seed}. {run.title}, {len(run.moments)} checkpoints, {student.way}, "
        f"{student.lost:.0%} lost"
    )
    for one in sorted(student.made, key=lambda made: -made.share):
        size = "lost" if one.lost else f"{one.share:.1f} of its limit"
        yield f"   made: loop {one.loop}, {one.name}: {one.words} ({size})"
    yield from told(run)


def aloud(seed: int) -> Iterator[str]:
    """A voice in a room, and what it is told."""
    voices = [one for one in FRESH if not missing(one[0])]
    (voice, rate), room = voices[seed % len(voices)], ALOUD_IN[seed % len(ALOUD_IN)]
    rehearsed, _ = rehearsal()
    mistakes = mistaken(rehearsed, seed)
    sound = student(rehearsed, voice, rate, level=0.0, mistakes=mistakes, seed=seed)
    heard = listen(in_room(sound, room, seed), rehearsed.expected())
    sheet, places = rehearsed.sheet, rehearsed.passages.passages
    spoken = [placed(one, one.start_s, places[one.expected], sheet) for one in heard]
    empty = blank("lazy-eight", "answers")
    asked = (replace(one, asks=sheet.asked(at)) for at, one in enumerate(empty.moments))
    taps = tuple(tap for one in spoken for tap in one.taps)
    lost = tuple(
        Unheard(sheet.flight_s(one.start_s), sheet.flight_s(one.end_s), "not understood")
        for one, there in zip(heard, spoken, strict=True)
        if not there.sure
    )
    yield f"{seed}. Lazy eight, answered by {voice}, {room}"
    for (loop, name), words in mistakes.items():
        yield f"   made: loop {loop}, {name}: {words or 'missed'}"
    yield from told(replace(empty, moments=tuple(asked), taps=taps, unheard=lost))


def told(run: Run) -> Iterator[str]:
    """The coach's words."""
    judged = debrief(run)
    yield f"   told: {judged.plain}"
    for name, words in (("lost", judged.perceived), ("tones", judged.tones)):
        if words:
            yield f"   {name}: {words}"
    for place, words in enumerate(judged.largest, 1):
        yield f"   {place}: {words}"
    yield f"   next: {judged.next}"


def main() -> None:
    """Print them."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.debriefs", description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--first", type=int, default=0, help="the first one's seed")
    parser.add_argument("--aloud", type=int, default=0, metavar="COUNT")
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    asked = parser.parse_args()
    for seed in range(asked.first, asked.first + (asked.count if not asked.aloud else 0)):
        print("\n".join(known(simulated(seed))), flush=True)
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder))
        for seed in range(asked.first + 1, asked.first + 1 + asked.aloud):
            print("\n".join(aloud(seed)), flush=True)


if __name__ == "__main__":
    main()
