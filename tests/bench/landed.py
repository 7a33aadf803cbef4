"""Where the naming word of each checkpoint is heard: ``python -m tests.bench.landed [MANEUVER...]``.

The rendered soundtrack, airplane and tones included, is cut around each checkpoint's phrase; a
recogniser that is told the words (pocketsphinx, with its own model) says when the naming word
begins, and that is held against the checkpoint's own moment.
"""

from __future__ import annotations

import sys

import numpy as np

from coach.flight.day import Day
from coach.rehearsal.ready import fly, prepare
from coach.sound.clip import RATE, Clip
from tests.sound.test_landing import decoder, recognised_s

MANEUVERS = ("lazy-eight", "chandelle", "steep-turn-45", "traffic-pattern", "power-off-stall")


def landings_s(maneuver: str) -> tuple[list[float], int]:
    """How far after its checkpoint each naming word is heard, and how many could not be aligned."""
    flight = fly(maneuver, "meadow-four", Day())
    ready = prepare(flight, Day())
    late, unheard = [], 0
    for cue in ready.sheet.cues:
        if cue.phrase is None or not cue.phrase.lands or cue.moment is None:
            continue
        start = round(cue.start_s * RATE)
        mono = ready.soundtrack.frames(start, round(cue.length_s * RATE)).mean(axis=1)
        found = recognised_s(Clip(mono), cue.phrase)
        if found is None:
            unheard += 1
        else:
            due = ready.sheet.position_s(flight.moments[cue.moment].time_s)
            late.append(cue.start_s + found - due)
    return late, unheard


def main() -> None:
    """Measure and print a table."""
    decoder().add_word("abeam", "AH B IY M", update=True)
    print("maneuver          words  unheard   median    worst")
    for maneuver in sys.argv[1:] or MANEUVERS:
        late, unheard = landings_s(maneuver)
        worst = max(map(abs, late))
        print(
            f"{maneuver:<17} {len(late):>5}  {unheard:>7}  {1000 * np.median(late):>+4.0f} ms  "
            f"{1000 * worst:>4.0f} ms"
        )


if __name__ == "__main__":
    main()
