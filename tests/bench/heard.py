"""What is heard against what was planned: ``python -m tests.bench.heard [MANEUVER...]``.

Each rehearsal is played through real PortAudio into a null sink at its own tempo and recorded from
the sink's monitor, at full and at half pace. Beside them the naive program, a loop of sleep and
pyttsx3's ``say``, plays the same phrases at the same planned times. ``--busy`` keeps every
processor busy with something else meanwhile.
"""

from __future__ import annotations

import argparse
import itertools
import json
import multiprocessing
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import numpy.typing as npt
from scipy.signal import correlate, resample_poly

from coach.callouts.cuesheet import Cue
from coach.flight.day import Day
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.sound.clip import RATE
from coach.sound.outputs import open_player
from coach.sound.voices import voices
from tests.sound.null_sink import missing, private_server

MANEUVERS = ("lazy-eight", "steep-turn-45", "power-off-stall")
PACES = (1.0, 0.5)
NEAR_S = 0.25
"""How far from its place a cue is looked for."""

Samples = npt.NDArray[np.float32]


def ready(maneuver: str, pace: float) -> Rehearsal:
    """The rehearsal of a maneuver's first loop."""
    day = Day(loops=1)
    return prepare(fly(maneuver, "meadow-four", day), day, pace=pace)


def play(maneuver: str, pace: float) -> None:
    """Play a rehearsal to its end in this process; what it cost goes to stdout."""
    rehearsal = ready(maneuver, pace)
    with open_player(rehearsal.soundtrack) as player:
        busy, begun = time.process_time(), time.perf_counter()
        player.start()
        while not player.finished:
            time.sleep(1 / 15)
        share = (time.process_time() - busy) / (time.perf_counter() - begun)
        print(json.dumps({"underruns": player.underruns, "share": share, "note": player.note}))


def say(maneuver: str, pace: float) -> None:
    """The naive program."""
    from coach.sound.speakers.espeak import lend_espeak

    sheet = ready(maneuver, pace).sheet
    usual = next(voice for voice in voices() if voice.usual)
    lend_espeak()
    import pyttsx3

    engine = pyttsx3.init()
    engine.setProperty("voice", usual.id)
    engine.setProperty("rate", 180)
    begun = time.perf_counter()
    late = []
    for cue in sheet.cues:
        if cue.phrase is not None:
            time.sleep(max(0.0, begun + cue.start_s - time.perf_counter()))
            late.append(time.perf_counter() - begun - cue.start_s)
            engine.say(cue.phrase.spoken)
            engine.runAndWait()
    # How late it is before it even begins to synthesise; what is heard is later still.
    print(json.dumps({"phrases": len(late), "worst_s": max(late), "last_s": late[-1]}))


def recorded(how: str, maneuver: str, pace: float) -> tuple[Samples, dict[str, float]]:
    """What came out of a null sink of its own, and what the program told of itself."""
    with private_server() as sink:
        sink.start_recording()
        told = subprocess.run(
            [sys.executable, "-m", "tests.bench.heard", f"--{how}", maneuver, str(pace)],
            env=sink.environment, capture_output=True, text=True, check=True,
        ).stdout  # fmt: skip
        samples = sink.stop_recording().samples
    found: dict[str, float] = json.loads(told.splitlines()[-1])
    return samples, found


def place(heard: Samples, wanted: Samples, near: int, reach_s: float = NEAR_S) -> tuple[int, float]:
    """The sample nearest ``near`` where something is heard, and how alike it is there, 0 to 1."""
    reach = round(NEAR_S * RATE)
    low = max(0, near - reach)
    window = heard[low : near + reach + len(wanted)].astype(np.float64)
    likeness = correlate(window, wanted.astype(np.float64), "valid")
    total = np.concatenate([[0.0], np.cumsum(window**2)])
    energy = total[len(wanted) :] - total[: -len(wanted)]
    likeness /= np.sqrt(np.maximum(energy, 1e-12) * float(wanted @ wanted))
    return low + int(likeness.argmax()), float(likeness.max())


def onsets_s(rehearsal: Rehearsal, heard: Samples) -> tuple[list[float], int]:
    """Each cue's error against the introduction, in seconds, and how many were not heard whole."""
    track = rehearsal.soundtrack
    whole = track.frames(0, track.length).mean(axis=1)

    def shape(cue: Cue) -> Samples:
        start = round(cue.start_s * RATE)
        found: Samples = whole[start : start + round(cue.length_s * RATE)]
        return found

    # The whole introduction is like nothing that comes later.
    begin = whole[: round(rehearsal.sheet.flight_start_s * RATE)]
    likeness = correlate(heard.astype(np.float64), begin.astype(np.float64), "valid", "fft")
    origin = int(likeness.argmax())
    errors, broken = [], 0
    for cue in rehearsal.sheet.cues:
        planned = origin + round(cue.start_s * RATE)
        found, alike = place(heard, shape(cue), planned)
        broken += alike < 0.98
        errors.append((found - planned) / RATE)
    return errors, broken


def loudness(samples: Samples) -> tuple[float, float]:
    """Integrated loudness in LUFS (ITU-R BS.1770-4) and true peak in dB of full scale."""
    import pyloudnorm

    meter = pyloudnorm.Meter(RATE)
    peak = max(
        float(np.abs(resample_poly(samples[low : low + 60 * RATE], 4, 1)).max())
        for low in range(0, len(samples), 60 * RATE)
    )
    return float(meter.integrated_loudness(samples)), 20 * float(np.log10(peak))


def overlaps(rehearsal: Rehearsal) -> int:
    """How many phrases begin before the one before them is over."""
    said = [cue for cue in rehearsal.sheet.cues if cue.phrase is not None]
    return sum(after.start_s < before.end_s for before, after in itertools.pairwise(said))


@contextmanager
def busy_machine(wanted: bool) -> Iterator[None]:
    """Every processor kept busy, if wanted."""
    burners = [
        multiprocessing.Process(target=_burn, daemon=True)
        for _ in range((os.cpu_count() or 1) if wanted else 0)
    ]
    for burner in burners:
        burner.start()
    try:
        yield
    finally:
        for burner in burners:
            burner.kill()


def _burn() -> None:
    while True:
        sum(number * number for number in range(10_000))


def main() -> None:
    """Measure and print a table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("maneuvers", nargs="*", default=MANEUVERS)
    asked.add_argument("--busy", action="store_true")
    asked.add_argument("--naive", action="store_true")
    asked.add_argument("--play", nargs=2, metavar=("MANEUVER", "PACE"))
    asked.add_argument("--say", nargs=2, metavar=("MANEUVER", "PACE"))
    given = asked.parse_args()
    if given.play:
        play(given.play[0], float(given.play[1]))
        return
    if given.say:
        say(given.say[0], float(given.say[1]))
        return
    if absent := missing():
        sys.exit(absent)
    print(
        "maneuver          pace  cues  broken  worst onset  overlaps  underruns  LUFS   dBTP   CPU"
    )
    for maneuver in given.maneuvers:
        for pace in PACES:
            rehearsal = ready(maneuver, pace)
            with busy_machine(given.busy):
                heard, told = recorded("play", maneuver, pace)
            errors, broken = onsets_s(rehearsal, heard)
            level, peak = loudness(rehearsal.soundtrack.frames(0, rehearsal.soundtrack.length))
            worst = max(map(abs, errors))
            print(
                f"{maneuver:<17} {pace:<5} {len(errors):>4}  {broken:>6}  {1000 * worst:>8.2f} ms  "
                f"{overlaps(rehearsal):>8}  {told['underruns']:>9}  {level:>5.1f}  {peak:>5.1f}  "
                f"{told['share']:.0%}",
                flush=True,
            )
            if given.naive:
                _, told = recorded("say", maneuver, pace)
                print(
                    f"  naive: {told['phrases']} phrases, each begun up to {told['worst_s']:.2f} s "
                    f"late, the last {told['last_s']:.2f} s",
                    flush=True,
                )


if __name__ == "__main__":
    main()
