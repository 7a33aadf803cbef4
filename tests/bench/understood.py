"""How well the coach is understood: ``python -m tests.bench.understood [--voice NAME] [--rate N]``.

Every phrase that may be said in any maneuver of the library, in the usual airplane and day, with
everything said and with the coach asking, is spoken by each voice and written down by a recogniser
of its own (`tests.bench.transcriber`): as it is; 10 dB above a running engine, the noise of the
ears' own tests; and as a student hears it, cut out of the soundtrack of each maneuver with the
airplane, tones and ticks that happen to sound with it. What a voice says worse than 30 % by itself
is listed with what was heard. Beside it the loudness of every soundtrack.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import gcd
from typing import TypeVar

import numpy as np
from scipy.signal import resample_poly

from coach.brief.warnings import warnings
from coach.callouts.cuesheet import CueSheet, Phrase
from coach.callouts.sheet import cue_sheet, phrases
from coach.flight.day import Day
from coach.rehearsal.ready import fly
from coach.script import catalog
from coach.sound import landing
from coach.sound.clip import RATE as FULL_RATE
from coach.sound.clip import Clip, Samples
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.voices import WORDS_PER_MINUTE, speak
from tests.bench.heard import loudness
from tests.bench.transcriber import RATE, Transcriber
from tests.bench.word_errors import Score, interval, rate, score
from tests.ears.speakers import level, noise

T = TypeVar("T")

SUPPORTS = ("everything", "asking")
ENGINE_DB = 10.0
AROUND_S = 0.4
"""What is heard before and after a phrase; of a neighbouring phrase nothing."""

BAD = 0.3
"""A phrase that is heard worse than this by itself is listed."""


@dataclass(frozen=True)
class Heard:
    """A phrase, where it was heard, and what the recogniser took it for."""

    where: str
    said: str
    heard: str

    @property
    def score(self) -> Score:
        return score(self.said, self.heard)


@dataclass(frozen=True)
class Told:
    """One rehearsal as it is mixed."""

    name: str
    sheet: CueSheet
    track: Soundtrack


def library(only: Iterable[str] = ()) -> Iterator[tuple[str, str, list[Phrase]]]:
    """Each maneuver and support with everything that may be said."""
    for name in only or catalog.names("maneuvers"):
        flight = fly(name, "meadow-four", Day())
        for support in SUPPORTS:
            yield name, support, phrases(flight, support=support, warnings=warnings(flight))


def rehearsals(clips: Mapping[str, Clip], only: Iterable[str] = ()) -> Iterator[Told]:
    """Every soundtrack of the library in one voice."""
    for name in only or catalog.names("maneuvers"):
        flight = fly(name, "meadow-four", Day())
        heard = warnings(flight)
        for support in SUPPORTS:
            wanted = phrases(flight, support=support, warnings=heard)
            measured = landing.measures(wanted, clips)
            sheet = cue_sheet(flight, measured, support=support, warnings=heard)
            yield Told(f"{name}, {support}", sheet, mix(sheet, clips))


def at_16k(sound: Samples) -> Samples:
    """From the soundtrack's rate to the recogniser's."""
    step = gcd(FULL_RATE, RATE)
    return np.asarray(resample_poly(sound, RATE // step, FULL_RATE // step), np.float32)


def in_quiet(clip: Clip) -> Samples:
    """A phrase with silence around."""
    return np.pad(at_16k(clip.samples), round(AROUND_S * RATE))


def in_the_engine(clip: Clip) -> Samples:
    """A phrase whose louder parts are so much above the noise."""
    quiet = in_quiet(clip)
    loud = level(at_16k(clip.samples)) * 10 ** (-ENGINE_DB / 20)
    return np.asarray(quiet + loud * _engine()[: len(quiet)], np.float32)


@cache
def _engine() -> Samples:
    return noise("engine", 60 * RATE)


def in_the_mix(one: Told) -> Iterator[tuple[str, Samples]]:
    """Each phrase once as it sounds in the soundtrack, up to half way to its neighbours."""
    said = [cue for cue in one.sheet.cues if cue.phrase is not None]
    known: set[str] = set()
    for before, cue, after in zip([None, *said], said, [*said[1:], None], strict=False):
        assert cue.phrase is not None
        if cue.phrase.spoken in known:
            continue
        known.add(cue.phrase.spoken)
        room = cue.start_s - before.end_s if before else 2 * AROUND_S
        begin = cue.start_s - min(AROUND_S, max(0.0, room) / 2)
        room = after.start_s - cue.end_s if after else 2 * AROUND_S
        end = cue.end_s + min(AROUND_S, max(0.0, room) / 2)
        first = round(begin * FULL_RATE)
        heard = one.track.frames(first, round(end * FULL_RATE) - first).mean(axis=1)
        yield cue.phrase.spoken, np.pad(at_16k(heard), round(AROUND_S * RATE))


def spoken_in(
    voice: str | None, words_per_minute: int, only: list[str]
) -> tuple[list[str], Mapping[str, Clip]]:
    """Every phrase that may be said, and the sound of each and of its parts."""
    wanted = [phrase for _, _, some in library(only) for phrase in some]
    texts = list(dict.fromkeys(phrase.spoken for phrase in wanted))
    spoken = speak(
        [*texts, *landing.words(wanted)], voice=voice, words_per_minute=words_per_minute,
        limit_s=3600.0,
    )  # fmt: skip
    if spoken.note:
        print(spoken.note)
    return [text for text in texts if text in spoken.clips], spoken.clips


def measure(
    voice: str | None, words_per_minute: int, only: list[str], most: int
) -> dict[str, list[Heard]]:
    """What is heard in each condition, of so many phrases at most."""
    texts, clips = spoken_in(voice, words_per_minute, only)
    transcriber = Transcriber()
    seconds = sum(clips[text].length_s for text in texts)
    words = sum(len(text.split()) for text in texts)
    print(f"{len(texts)} phrases, {60 * words / seconds:.0f} words a minute as spoken", flush=True)

    def heard(where: str, said: Iterable[tuple[str, Samples]]) -> list[Heard]:
        return [Heard(where, text, transcriber.heard(sound)) for text, sound in said]

    some = drawn(texts, most)
    mixed = [(one.name, said) for one in rehearsals(clips, only) for said in in_the_mix(one)]
    return {
        "quiet": heard("quiet", ((one, in_quiet(clips[one])) for one in some)),
        "engine": heard("engine", ((one, in_the_engine(clips[one])) for one in some)),
        "mix": [one for where, said in drawn(mixed, most) for one in heard(where, [said])],
    }


def drawn(every: Sequence[T], most: int) -> list[T]:
    """All of them, or as many as that, the same ones each time."""
    return [*every] if len(every) <= most else random.Random(1).sample([*every], most)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("maneuvers", nargs="*")
    asked.add_argument("--voice", action="append", help="again for another; else the usual one")
    asked.add_argument("--rate", type=int, default=WORDS_PER_MINUTE, help="words a minute")
    asked.add_argument("--most", type=int, default=10_000, help="phrases, drawn by chance")
    asked.add_argument("--all", action="store_true", help="list everything that was misheard")
    asked.add_argument("--loudness", action="store_true", help="of every soundtrack, and no more")
    given = asked.parse_args()
    for voice in given.voice or [None]:
        if given.loudness:
            clips = spoken_in(voice, given.rate, given.maneuvers)[1]
            for told in rehearsals(clips, given.maneuvers):
                lufs, peak = loudness(told.track.frames(0, told.track.length))
                print(f"{told.name:<42} {lufs:6.1f} LUFS {peak:6.1f} dBTP", flush=True)
            continue
        found = measure(voice, given.rate, given.maneuvers, given.most)
        print(f"{voice or 'usual'} at {given.rate}:")
        for where, some in found.items():
            scores = [one.score for one in some]
            low, high = interval(scores)
            print(f"  {where:<7} {len(some):>5} phrases {sum(one.words for one in scores):>6} words"
                  f"  WER {rate(scores):6.1%}  ({low:.1%} to {high:.1%})", flush=True)  # fmt: skip
        for where in ("quiet", "mix"):
            for one in found[where]:
                if one.score.rate > (0 if given.all else BAD):
                    print(
                        f"    {one.score.rate:4.0%} {one.where}: “{one.said}” heard as “{one.heard}”"
                    )


if __name__ == "__main__":
    main()
