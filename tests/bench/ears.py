"""How well the coach hears: ``python -m tests.bench.ears [thresholds|accuracy|alarms|own-voice|cost|device|loop]``.

Voices that nothing was tuned on (`tests.ears.speakers.UNHEARD`), noises at three
distances, all through the recogniser's own process code, faster than real time.
"""

from __future__ import annotations

import resource
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import resample_poly

from coach.callouts.cuesheet import Cue, CueSheet, Measure
from coach.callouts.sheet import cue_sheet, phrases
from coach.ears.ears import Ears, open_microphone
from coach.ears.grammar import Grammar
from coach.ears.own_voice import OwnVoice
from coach.ears.passages import Passage, passages, placed
from coach.ears.resampling import Resampler
from coach.ears.segments import RATE, Samples
from coach.ears.spoken import Spoken
from coach.ears.utterance import NOISE, SURE, Utterance
from coach.sound.clip import RATE as FULL_RATE
from coach.sound.outputs import open_player
from coach.sound.soundtrack import mix
from coach.sound.voices import speak
from tests.callouts.flown import flown
from tests.ears.attempts import Attempt, attempts
from tests.ears.judging import judge
from tests.ears.listening import listen
from tests.ears.speakers import (
    FORMANT,
    NOISES,
    OWN_ALIKE,
    RECORDED,
    TUNING,
    UNHEARD,
    chatter,
    noise,
    say,
)
from tests.ears.students import FOUND, Rehearsed, coach, lazy_eight, student
from tests.sound.null_sink import private_server
from tests.sound.sheets import sheet_of
from tests.sound.tape import Tape

VOICE_LEVEL = 0.05
ROOM_LEVEL = VOICE_LEVEL * 10 ** (-45 / 20)
BEFORE_S = 1.5
SLOT_S = 6.5
SHEET = sheet_of()
VOICES = tuple(
    one for one in UNHEARD if not one[0].startswith("flite") or shutil.which("flite") is not None
)
LOOP = tuple(one for one in (FORMANT[0], RECORDED[1], OWN_ALIKE[0]) if one in VOICES)
"""One voice of each kind, for what takes as long as a rehearsal."""


@dataclass(frozen=True)
class Outcome:
    """What one attempt came to, as the coach would judge it."""

    attempt: Attempt
    voice: str
    heard: tuple[Utterance, ...]
    start_s: float

    @property
    def spoken(self) -> list[Spoken]:
        question = Cue(self.start_s - 1.0, 0.5, gap_s=3.0, moment=0)
        place = Passage(0.0, 0, self.attempt.grammar, question)
        found = [placed(one, one.start_s, place, SHEET) for one in self.heard]
        return [one for one in found if one is not None]

    @property
    def exact(self) -> bool:
        """Every number came through, and no other."""
        values = {one: value for part in self.spoken for one, value in part.said.values.items()}
        return values == self.attempt.values

    @property
    def verdict(self) -> str:
        due = replace(self.attempt.moment, time_s=SHEET.flight_s(self.start_s + 3.0))
        (answer,) = judge((due,), (0,), self.spoken, until_s=1e9)
        return {"on time": "right", "late": "right", "wrong value": "wrong"}.get(
            answer.word, "unclear"
        )

    @property
    def onset_error_s(self) -> float:
        return self.heard[0].start_s - self.start_s


Expected = Sequence[tuple[float, Grammar]]
Hear = Callable[[Samples, Expected], list[Utterance]]


def outcomes(
    tries: Sequence[Attempt],
    voice: str,
    words_per_minute: int,
    kind: str,
    snr_db: float,
    hear: Hear,
) -> Iterator[Outcome]:
    """Everything said by one voice, one after the other in one long recording."""
    sound = ROOM_LEVEL * noise("fan", round((len(tries) * SLOT_S + 2.0) * RATE))
    if kind != "quiet":
        sound += VOICE_LEVEL * 10 ** (-snr_db / 20) * noise(kind, len(sound))
    starts = [number * SLOT_S + BEFORE_S for number in range(len(tries))]
    for start, one in zip(starts, tries, strict=True):
        said = say(one.words, voice, words_per_minute)
        sound[round(start * RATE) : round(start * RATE) + len(said)] += said
    expected = [(start - BEFORE_S, one.grammar) for start, one in zip(starts, tries, strict=True)]
    heard = hear(sound, expected)
    for number, (start, one) in enumerate(zip(starts, tries, strict=True)):
        found = [each for each in heard if each.expected == number]
        yield Outcome(one, voice, tuple(found), start)


def accuracy(every: int = 9, hear: Hear = listen) -> None:
    """Phrases, verdicts and onsets, in quiet and in noise; each ``every``-th phrase of a voice."""
    print("| where | phrases | wrong found | wrong unclear | right called wrong | right unclear "
          "| onset median / p95 |\n|---|---|---|---|---|---|---|")  # fmt: skip
    for where in ("quiet", *(f"{kind} {snr} dB" for kind in NOISES for snr in (20, 10, 5))):
        kind, _, snr = where.partition(" ")
        found: list[Outcome] = []
        for number, (voice, rate) in enumerate(VOICES):
            tries = list(attempts("answer", 61))[number % every :: every]
            loud = float(snr.split()[0]) if snr else 99.0
            found += outcomes(tries, voice, rate, kind, loud, hear)
        wrong = [one for one in found if not all(one.attempt.right.values())]
        right = [one for one in found if all(one.attempt.right.values())]
        onsets = sorted(abs(one.onset_error_s) * 1000 for one in found if one.exact) or [0.0]
        print(
            f"| {where} | {_share(found, lambda one: one.exact)} "
            f"| {_share(wrong, lambda one: one.verdict == 'wrong')} "
            f"| {_share(wrong, lambda one: one.verdict == 'unclear')} "
            f"| {_share(right, lambda one: one.verdict == 'wrong')} "
            f"| {_share(right, lambda one: one.verdict == 'unclear')} "
            f"| {statistics.median(onsets):.0f} / {onsets[int(0.95 * len(onsets))]:.0f} ms |",
            flush=True,
        )
        if where == "quiet":
            for voice, _ in VOICES:
                own = [one for one in found if one.voice == voice]
                print(f"  {voice}: {_share(own, lambda one: one.exact)}")


def thresholds() -> None:
    """How sure the recogniser is of what the tuning voices say, and of unrelated speech."""
    for voice, rate in TUNING:
        tries = list(attempts("answer", 21))[::4]
        found = list(outcomes(tries, voice, rate, "quiet", 99.0, listen))
        right = sorted(max(each.sure for each in one.heard) for one in found if one.exact)
        told = ", ".join(f"{right[int(share * len(right))]:.2f}" for share in (0.05, 0.25, 0.5))
        print(f"{voice}: 5 %, a quarter, half of the {len(right)} of {len(found)} phrases that "
              f"came through are below {told}", flush=True)  # fmt: skip
    grammars = [one.grammar for one in attempts("answer", 1)]
    for voice, rate in TUNING[:3]:
        sure = sorted(
            one.sure for one in listen(chatter(60.0, voice, rate), [(0.0, grammars[rate % 50])])
        )
        print(f"{voice}: of {len(sure)} unrelated ones half are below {sure[len(sure) // 2]:.2f}, "
              f"all below {sure[-1]:.2f}")  # fmt: skip


def _share(found: Sequence[Outcome], holds) -> str:  # type: ignore[no-untyped-def]
    count = sum(bool(holds(one)) for one in found)
    return f"{100 * count / max(1, len(found)):.0f} % ({count}/{len(found)})"


def alarms(minutes: float = 10.0) -> None:
    """What is taken for a callout or an answer in unrelated speech."""
    for kind in ("callout", "answer"):
        grammars = list(dict.fromkeys(one.grammar.jsgf for one in attempts(kind, 1)))
        known = {one.grammar.jsgf: one.grammar for one in attempts(kind, 1)}
        heard: list[Utterance] = []
        understood = 0
        for number, (voice, rate) in enumerate(VOICES[:5]):
            each_s = minutes * 60.0 / 5
            sound = chatter(each_s, voice, rate, number)
            since = np.arange(0.0, each_s, 15.0)
            grams = [known[grammars[(7 * number + at) % len(grammars)]] for at in range(len(since))]
            found = listen(sound, [*zip(since, grams, strict=True)])
            heard += found
            understood += sum(
                one.sure >= SURE and grams[one.expected].parse(one.words) is not None
                for one in found
            )
        unsure = sum(NOISE <= one.sure < SURE for one in heard)
        print(f"{minutes:.0f} min of unrelated speech, {kind}s listened for: {understood} taken for "
              f"one, {unsure} called unclear, {len(heard)} utterances")  # fmt: skip


def own_voice() -> None:
    """The whole lazy eight, with the coach's own soundtrack 10 dB below the student's voice."""
    flight = flown("lazy-eight")
    wanted = phrases(flight, support="asking")
    clips = speak([phrase.spoken for phrase in wanted]).clips
    measures = {phrase: Measure(clips[phrase.spoken].length_s) for phrase in wanted}
    sheet = cue_sheet(flight, measures, support="asking")
    rehearsed = Rehearsed(flight, sheet, passages(sheet, flight.moments))
    track = mix(sheet, clips)
    leak = Resampler(FULL_RATE).feed(track.frames(0, track.length).mean(axis=1))
    leak = leak * VOICE_LEVEL * 10 ** (-10 / 20) / 10 ** (-23 / 20)
    mask = OwnVoice(sheet, lambda at: at)
    block = RATE // 20
    for voice, rate in VOICES:
        clean = student(rehearsed, voice, rate)
        count = min(len(clean), len(leak))
        open_ear = (clean[:count] + leak[:count]).astype(np.float32)
        masked = open_ear.copy()
        for at in range(0, count, block):
            if mask(at / RATE):
                masked[at : at + block] = np.nan
        line = []
        for name, sound in (("headphones", clean), ("leaking", open_ear), ("masked", masked)):
            found = rehearsed.mistakes(listen(sound, rehearsed.expected()))
            extra = {key: word for key, word in found.items() if FOUND.get(key) != word}
            caught = sum(found.get(key) == word for key, word in FOUND.items())
            line.append(f"{name}: {caught} of 4, else {sorted(extra.values()) or 'none'}")
        print(f"{voice}: {'; '.join(line)}", flush=True)


def cost() -> None:
    """Processor time for each second of sound, and how long a verdict takes."""
    rehearsed = lazy_eight()
    sound = student(rehearsed, "en-us+f2", 180)
    listen(sound[: 20 * RATE], rehearsed.expected())
    began, used = time.perf_counter(), time.process_time()
    heard = listen(sound, rehearsed.expected())
    wall, used = time.perf_counter() - began, time.process_time() - used
    print(f"{len(sound) / RATE:.0f} s of rehearsal with {len(heard)} utterances: {used:.1f} s of "
          f"processor, {100 * used * RATE / len(sound):.1f} % of one; {wall:.1f} s")  # fmt: skip


def loop() -> None:
    """The lazy eight at its own tempo: out of a null sink, and in through its monitor."""
    _beside_a_server("in_the_loop")


def device() -> None:
    """The same phrases heard as samples, and through a real input device."""
    _beside_a_server("through_the_device")


def _beside_a_server(what: str) -> None:
    with private_server() as sink:
        environment = {**sink.environment, "PULSE_SOURCE": "rehearsal_room.monitor"}
        code = f"from tests.bench.ears import {what}; {what}()"
        subprocess.run([sys.executable, "-c", code], env=environment, check=True)


def in_the_loop(voices: Sequence[tuple[str, int]] = LOOP) -> None:
    """Play the student and the coach, listen, and judge: what `loop` runs beside its own server."""
    rehearsed = lazy_eight()
    for voice, rate in voices:
        room = student(rehearsed, voice, rate) + coach(rehearsed)
        heard, late, note = _played(room, rehearsed.expected(), rehearsed.sheet)
        found = rehearsed.mistakes(heard)
        verdict = "right" if found == FOUND else "not it"
        print(f"{voice}: {len(heard)} utterances; found {found}, which is {verdict}; {note}")
        print(f"told {statistics.median(late):.2f} s after the last word (median), "
              f"{max(late):.2f} at most", flush=True)  # fmt: skip


def through_the_device() -> None:
    """What `device` runs beside its own server: fewer phrases, for they take their own time."""
    for hear in (listen, _through):
        accuracy(every=25, hear=hear)


def _through(sound: Samples, expected: Expected) -> list[Utterance]:
    heard, _, note = _played(sound, expected)
    print(note, file=sys.stderr)
    return heard


def _played(
    sound: Samples, expected: Expected, sheet: CueSheet | None = None
) -> tuple[list[Utterance], list[float], str]:
    """What is heard of a sound out of a null sink, each with its time in the sound.

    Returns:
        The utterances, how long each came after its last word, and the processor's share.
    """
    tape = Tape(np.asarray(resample_poly(sound, 3, 1), np.float32))
    heard: list[Utterance] = []
    late: list[float] = []
    numbers = 0
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    with open_player(tape) as player:
        covered = OwnVoice(sheet, player.position_s) if sheet is not None else None
        with Ears(open_microphone(), covered=covered) as ears:
            ears.wait()
            used, began = resource.getrusage(resource.RUSAGE_SELF), time.perf_counter()
            player.start()
            while not player.finished:
                now = time.perf_counter()
                while numbers < len(expected) and expected[numbers][0] <= player.position_s(now):
                    ears.expect(expected[numbers][1], now - 0.1)
                    numbers += 1
                for one in ears.utterances():
                    late.append(now - one.end_s)
                    heard.append(replace(one, start_s=player.position_s(one.start_s)))
                time.sleep(1.0 / 15.0)
            wall = time.perf_counter() - began
            mine = resource.getrusage(resource.RUSAGE_SELF)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = mine.ru_utime + mine.ru_stime - used.ru_utime - used.ru_stime
    child = after.ru_utime + after.ru_stime - children.ru_utime - children.ru_stime
    share = (
        f"coach and player {100 * own / wall:.1f} %, recogniser {100 * child / wall:.1f} % of a "
        f"processor, its start included; note: {ears.note!r}"
    )
    return heard, late, share


if __name__ == "__main__":
    parts = {
        "thresholds": thresholds,
        "accuracy": accuracy,
        "alarms": alarms,
        "own-voice": own_voice,
        "cost": cost,
        "device": device,
        "loop": loop,
    }
    for part in sys.argv[1:] or parts:
        parts[part]()
