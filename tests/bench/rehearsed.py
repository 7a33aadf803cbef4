"""Whether a student is told the mistakes that were made and no others: ``python -m tests.bench.rehearsed``.

A whole lazy eight in which the coach asks, by three voices that nothing was tuned on, ten times
each with other words, other mistakes and other times to think; with headphones, and with the
coach's own soundtrack in the room, 10 dB below the student's voice, while the microphone is closed
where the coach speaks; in quiet, and beside a fan 15 dB below the voice. Faster than real time;
``--device RUNS`` plays so many of them through a sound server and its monitor instead. Each run is
a line of ``--out FILE``, written as it comes; ``--table FILE`` prints what is there.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np

from coach.callouts.cuesheet import Measure
from coach.callouts.sheet import cue_sheet, phrases
from coach.ears.own_voice import OwnVoice
from coach.ears.passages import passages
from coach.ears.resampling import Resampler
from coach.ears.segments import RATE, Samples
from coach.sound.clip import RATE as FULL_RATE
from coach.sound.soundtrack import mix
from coach.sound.voices import speak
from tests.bench.ears.samples import VOICE_LEVEL, in_room
from tests.bench.through import beside_a_server, through_the_device
from tests.callouts.flown import flown
from tests.ears.listening import BLOCK, listen
from tests.ears.speakers import FRESH, keep_in, missing
from tests.ears.students import Rehearsed, mistaken, put_in, student

VOICES = tuple(one for one in FRESH if one[0] in ("piper joe", "nano en-GB", "nano en-US"))
ROOMS = ("quiet", "fan 15")
HOW = ("headphones", "loudspeakers")
RUNS = 10
LEAK_DB = -10.0
UNCLEAR = ("unclear", "not perceived")
MIX_DB = -23.0
"""How loud a soundtrack is (EBU R 128)."""


@dataclass(frozen=True)
class Told:
    """What a student was told after one run.

    Attributes:
        how: with headphones or loudspeakers.
        room: as `tests.bench.ears.samples.ROOMS`.
        voice: who spoke.
        run: its number, which is its seed.
        put_in: the mistakes that were made, each as "loop 1, 90: wrong value".
        found: those of them that were told.
        invented: mistakes that were told and were not made.
        unclear: what was not understood.
        note: what the ears had to say.
    """

    how: str
    room: str
    voice: str
    run: int
    put_in: Sequence[str]
    found: Sequence[str]
    invented: Sequence[str]
    unclear: Sequence[str]
    note: str = ""


@cache
def rehearsal() -> tuple[Rehearsed, Samples]:
    """The lazy eight, and what a microphone hears of the coach's soundtrack."""
    flight = flown("lazy-eight")
    wanted = phrases(flight, support="asking")
    clips = speak([phrase.spoken for phrase in wanted]).clips
    measures = {phrase: Measure(clips[phrase.spoken].length_s) for phrase in wanted}
    sheet = cue_sheet(flight, measures, support="asking")
    track = mix(sheet, clips)
    leak = Resampler(FULL_RATE).feed(track.frames(0, track.length).mean(axis=1))
    leak *= VOICE_LEVEL * 10 ** ((LEAK_DB - MIX_DB) / 20)
    return Rehearsed(flight, sheet, passages(sheet, flight.moments)), leak.astype(np.float32)


def told(how: str, room: str, voice: str, run: int, *, device: bool) -> Told:
    """One run."""
    rehearsed, leak = rehearsal()
    mistakes = mistaken(rehearsed, run)
    think_s = random.Random(run).uniform(0.4, 1.0)
    rate = dict(VOICES)[voice]
    sound = student(rehearsed, voice, rate, level=0.0, think_s=think_s, mistakes=mistakes, seed=run)
    if how == "loudspeakers":
        count = min(len(sound), len(leak))
        sound[:count] += leak[:count]
    sound = in_room(sound, room, run)
    covered = rehearsed.sheet if how == "loudspeakers" else None
    note = ""
    if device:
        heard, note = through_the_device(sound, rehearsed.expected(), covered)
    else:
        if covered is not None:
            mask = OwnVoice(covered, lambda at: at)
            for at in range(0, len(sound), BLOCK):
                if mask(at / RATE):
                    sound[at : at + BLOCK] = np.nan
        heard = listen(sound, rehearsed.expected())
    made, judged = put_in(mistakes), rehearsed.mistakes(heard)
    blamed = {place: word for place, word in judged.items() if word not in UNCLEAR}
    return Told(
        how,
        room,
        voice,
        run,
        put_in=_lines(made),
        found=_lines({place: word for place, word in blamed.items() if made.get(place) == word}),
        invented=_lines({place: word for place, word in blamed.items() if made.get(place) != word}),
        unclear=_lines({place: word for place, word in judged.items() if word in UNCLEAR}),
        note=note,
    )


def _lines(verdicts: Mapping[tuple[int, str], str]) -> list[str]:
    return [f"loop {loop}, {name}: {word}" for (loop, name), word in sorted(verdicts.items())]


def table(found: Sequence[Told]) -> Iterator[str]:
    """A row for each student and room, and what was wrong in which run."""
    yield "| how | room | voice | runs | exactly the mistakes | found | invented | unclear |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
    for how, room, (voice, _) in product(HOW, ROOMS, VOICES):
        own = [one for one in found if (one.how, one.room, one.voice) == (how, room, voice)]
        if not own:
            continue
        exact = sum(len(one.found) == len(one.put_in) and not one.invented for one in own)
        made = sum(len(one.put_in) for one in own)
        caught = sum(len(one.found) for one in own)
        invented, unclear = (
            sum(map(len, rows))
            for rows in ([one.invented for one in own], [one.unclear for one in own])
        )
        yield (
            f"| {how} | {room} | {voice} | {len(own)} | {exact} | {caught} of {made} | {invented} "
            f"| {unclear} |"
        )
    yield ""
    for one in found:
        lost = sorted({*one.put_in} - {*one.found})
        if lost or one.invented or one.unclear or one.note:
            yield (
                f"{one.how}, {one.room}, {one.voice}, run {one.run}: not told {lost or 'none'}, "
                f"invented {one.invented or 'none'}, unclear {one.unclear or 'none'} {one.note}"
            )


def kept(file: Path) -> list[Told]:
    """The runs of a file, as far as it was written."""
    lines = file.read_text().splitlines() if file.exists() else []
    return [Told(**json.loads(line)) for line in lines if line.endswith("}")]


def main() -> None:
    """Measure, or print what was measured."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.rehearsed", description=__doc__)
    parser.add_argument("--out", type=Path, help="the file of runs")
    parser.add_argument("--table", type=Path, help="only print this file's runs")
    parser.add_argument("--spoken", type=Path, help="the folder of what was spoken")
    parser.add_argument("--runs", type=int, default=RUNS, help="so many of each")
    parser.add_argument("--device", type=int, default=0, metavar="RUNS", help="so many in all")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.table:
        print("\n".join(table(kept(asked.table))))
        return
    if asked.device and not asked.here:
        beside_a_server("tests.bench.rehearsed", "--here", *sys.argv[1:])
        return
    every = [*product(range(asked.runs), VOICES, ROOMS, HOW)]
    with tempfile.TemporaryDirectory() as folder:
        keep_in(asked.spoken or Path(folder, "spoken"))
        out = asked.out or Path(folder, "runs")
        known = {(one.run, one.voice, one.room, one.how) for one in kept(out)}
        for run, (voice, _), room, how in every[: asked.device or len(every)]:
            if (run, voice, room, how) in known or missing(voice):
                continue
            one = told(how, room, voice, run, device=bool(asked.device))
            with out.open("a") as file:
                print(json.dumps(asdict(one)), file=file)
        print("\n".join(table(kept(out))))


if __name__ == "__main__":
    main()
