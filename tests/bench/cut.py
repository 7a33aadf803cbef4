"""How well utterances are cut out of noise: ``python -m tests.bench.cut [--fresh]``.

An utterance is cut whole if one cut, and no other, lies over it and over no other, begins within
150 ms of it and ends within 300 ms. False cuts are those with no utterance in them: beside what is
said, in a room alone, of talk nearby, of knocks, and of the coach in the room, which is left out.
"""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import fftconvolve

from coach.ears.own_voice import OwnVoice
from coach.ears.segments import MARGIN_S, RATE, Samples, Segment, Segmenter
from coach.ears.voice import detector
from tests.ears.attempts import attempts
from tests.ears.speakers import NOISES, TUNING, UNHEARD, chatter, noise, say
from tests.ears.students import coach, lazy_eight

VOICE_LEVEL = 0.05
ROOM_LEVEL = VOICE_LEVEL * 10 ** (-45 / 20)
BEFORE_S = 1.5
SLOT_S = 6.5
EARLY_S, LATE_S = 0.15, 0.3
ROOMS = ("quiet", *(f"{kind} {snr} dB" for kind in NOISES for snr in (20, 10, 5)))


@dataclass(frozen=True, eq=False)
class Said:
    """An utterance in a room, in seconds from its first sample."""

    begin_s: float
    end_s: float


@dataclass(frozen=True)
class Cut:
    """Where a cut has its utterance, without the margins."""

    begin_s: float
    end_s: float


def cuts(sound: Samples, step: int = RATE // 20) -> list[Cut]:
    """What is cut out of a sound that comes in blocks."""
    segmenter = Segmenter(is_voice=detector())
    found: list[Segment] = []
    for at in range(0, len(sound), step):
        found += (one for one in segmenter.feed(sound[at : at + step]) if one.over)
    return [
        Cut(one.start / RATE + MARGIN_S, (one.start + len(one.samples)) / RATE - MARGIN_S)
        for one in found
    ]


def room(where: str, seconds: float) -> Samples:
    """A room's noise, beside a voice of `VOICE_LEVEL`."""
    kind, _, snr = where.partition(" ")
    sound = ROOM_LEVEL * noise("fan", round(seconds * RATE))
    if kind != "quiet":
        loud = VOICE_LEVEL * 10 ** (-float(snr.split()[0]) / 20)
        sound += loud * noise(kind, len(sound))
    return np.asarray(sound, np.float32)


def spoken(phrases: Sequence[Samples], where: str) -> tuple[Samples, list[Said]]:
    """Phrases one after the other in a room, and where they are."""
    sound = room(where, len(phrases) * SLOT_S + 2.0)
    said = []
    for number, phrase in enumerate(phrases):
        at = number * SLOT_S + BEFORE_S
        sound[round(at * RATE) :][: len(phrase)] += phrase
        said.append(Said(at, at + len(phrase) / RATE))
    return sound, said


def overlap(one: Cut, said: Said) -> bool:
    return one.begin_s < said.end_s and said.begin_s < one.end_s


def measure(phrases: Sequence[Samples], where: str) -> str:
    """A row of the table."""
    sound, said = spoken(phrases, where)
    began = time.process_time()
    found = cuts(sound)
    used = (time.process_time() - began) / (len(sound) / RATE)
    whole, missing, onsets, ends = 0, 0, [], []
    for each in said:
        over = [one for one in found if overlap(one, each)]
        missing += not over
        if not over:
            continue
        onsets.append(over[0].begin_s - each.begin_s)
        ends.append(over[-1].end_s - each.end_s)
        alone = len(over) == 1 and sum(overlap(over[0], other) for other in said) == 1
        whole += alone and abs(onsets[-1]) <= EARLY_S and abs(ends[-1]) <= LATE_S
    false = sum(not any(overlap(one, each) for each in said) for one in found)
    onset, end = (np.abs(1000.0 * np.array(one or [0.0])) for one in (onsets, ends))
    minutes = len(sound) / RATE / 60.0
    return (
        f"| {where} | {100 * whole / len(said):.0f} % ({whole}/{len(said)}) | {missing} "
        f"| {1000 * np.median(onsets or [0.0]):+.0f}, {np.quantile(onset, 0.95):.0f} ms "
        f"| {1000 * np.median(ends or [0.0]):+.0f}, {np.quantile(end, 0.95):.0f} ms "
        f"| {false / minutes:.1f} | {a_minute(room(where, 180.0)):.1f} | {100 * used:.1f} % |"
    )


def a_minute(sound: Samples) -> float:
    """How much is cut out of a minute of a sound."""
    return len(cuts(sound)) / (len(sound) / RATE / 60.0)


def talk(voices: Sequence[tuple[str, int]], below_db: float) -> Samples:
    """Talk in a quiet room, so much softer than a student."""
    parts = [chatter(30.0, voice, rate, number) for number, (voice, rate) in enumerate(voices)]
    soft = 10 ** (-below_db / 20) * np.concatenate(parts)
    return np.asarray(room("quiet", len(soft) / RATE) + soft, np.float32)


def knocks() -> Samples:
    """Twenty a minute: dishes, a door, a key; some louder than a voice, each soon over."""
    sound, dice = room("quiet", 180.0), np.random.default_rng(5)
    for at in np.sort(dice.uniform(3.0, 178.0, 60)):
        count = round(dice.uniform(0.05, 0.4) * RATE)
        knock = dice.normal(size=count) * np.exp(-5.0 * np.arange(count) / count)
        sound[round(at * RATE) :][:count] += 0.15 * 10 ** (dice.uniform(-20.0, 6.0) / 20) * knock
    return np.asarray(sound, np.float32)


def coach_left_out() -> Samples:
    """A rehearsal without a student, 10 dB softer than one, in a room that rings for 0.6 s."""
    rehearsed = lazy_eight()
    rings = np.arange(round(0.6 * RATE)) / RATE
    ring = np.random.default_rng(5).normal(size=len(rings)) * 10 ** (-3.0 * rings / 0.6)
    said = coach(rehearsed)
    sound = said + 0.5 * fftconvolve(said, ring / np.sqrt(np.square(ring).sum()))[: len(said)]
    sound = sound + room("quiet", len(sound) / RATE)[: len(sound)]
    covered, block = OwnVoice(rehearsed.sheet, lambda at: at), RATE // 20
    for at in range(0, len(sound), block):
        if covered(at / RATE):
            sound[at : at + block] = np.nan
    return np.asarray(sound, np.float32)


def main(voices: Sequence[tuple[str, int]]) -> None:
    """The table of the rooms, and the false cuts; about a hundred phrases in each."""
    phrases, every = [], round(1.7 * len(voices))
    for number, (voice, rate) in enumerate(voices):
        tries = [*attempts("answer", 33), *attempts("callout", 34)][number % every :: every]
        phrases += [say(one.words, voice, rate) for one in tries]
    print("| where | whole | never cut | onset median, 95 % | end median, 95 % | false a minute "
          "| in the room alone | cost |\n|---|---|---|---|---|---|---|---|")  # fmt: skip
    for where in ROOMS:
        print(measure(phrases, where), flush=True)
    for below_db in (0, 10, 20):
        found = a_minute(talk(voices[:6], below_db))
        print(f"talk {below_db} dB below a student: {found:.1f} cuts a minute")
    print(f"twenty knocks a minute: {a_minute(knocks()):.1f} cuts a minute")
    print(f"the coach, left out: {a_minute(coach_left_out()):.1f} cuts a minute")


if __name__ == "__main__":
    voices = UNHEARD if "--fresh" in sys.argv[1:] else TUNING
    main([one for one in voices if not one[0].startswith("flite") or shutil.which("flite")])
