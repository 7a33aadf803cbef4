"""How much of each maneuver the coach speaks, and how long it is silent, with the usual voice.

``python -m tests.bench.room [AIRPLANE]`` prints a row for each maneuver: for each support the share
of the first loop and of the later ones in which the coach speaks, and the longest silence of the
flight; and lists what had no room.
"""

import sys
from collections.abc import Sequence

from coach.callouts.cuesheet import CueSheet
from coach.callouts.sheet import cue_sheet, phrases
from coach.callouts.support import SUPPORTS
from coach.flight.flight import Flight
from coach.sound import landing
from coach.sound.voices import speak
from tests.callouts.flown import SCRIPTS, flown

LIMIT_S = 300.0


def spoken_sheet(flight: Flight, support: str) -> CueSheet:
    """A cue sheet with the usual voice's own lengths."""
    wanted = phrases(flight, support=support)
    texts = [*(phrase.spoken for phrase in wanted), *landing.words(wanted)]
    clips = speak(texts, limit_s=LIMIT_S).clips
    return cue_sheet(flight, landing.measures(wanted, clips), support=support)


def shares(flight: Flight, sheet: CueSheet) -> list[float]:
    """The share of each loop in which the coach speaks."""
    found = []
    for begin, end in flight.loops:
        begin, end = sheet.position_s(begin), sheet.position_s(end)
        heard = sum(
            max(0.0, min(cue.end_s, end) - max(cue.start_s, begin))
            for cue in sheet.cues
            if cue.phrase
        )
        found.append(heard / (end - begin))
    return found


def longest_silence_s(flight: Flight, sheet: CueSheet) -> float:
    """The longest time in which nothing is said from the first moment to the last."""
    spoken = [cue for cue in sheet.cues if cue.phrase and cue.end_s > sheet.flight_start_s]
    begins = [*(cue.start_s for cue in spoken), sheet.position_s(flight.length_s)]
    ends = [sheet.flight_start_s, *(cue.end_s for cue in spoken)]
    return max(begin - end for begin, end in zip(begins, ends, strict=True))


def main(plane: str) -> None:
    """Print the table."""
    supports = [name for name, level in SUPPORTS.items() if level.kinds]
    print(
        "| maneuver |", " | ".join(f"{one}, first / later loops, silence" for one in supports), "|"
    )
    print("|" + " --- |" * (1 + len(supports)))
    left_out = []
    for name in SCRIPTS:
        cells = []
        for support in supports:
            flight = flown(name, plane=plane)
            sheet = spoken_sheet(flight, support)
            first, *later = shares(flight, sheet)
            cells.append(f"{first:.0%} / {_most(later)}, {longest_silence_s(flight, sheet):.1f} s")
            left_out += [f"{name}, {support}: {sentence}" for sentence in sheet.dropped]
        print(f"| {name} | {' | '.join(cells)} |", flush=True)
    print(*left_out, sep="\n")


def _most(shares: Sequence[float]) -> str:
    return f"{max(shares):.0%}" if shares else "-"


if __name__ == "__main__":
    main(*(sys.argv[1:] or ["meadow-four"]))
