"""The real thing: a tape played into a null sink, recorded, and compared sample by sample."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.signal import correlate

import coach
from coach.sound.clip import RATE, Samples
from coach.sound.player import GO_BACK_S

from .null_sink import NullSink
from .tape import noise

SWALLOWED = RATE // 100
"""The server loses a few milliseconds at the start of every stream, whoever plays it."""

REPOSITORY = Path(coach.__file__).parent.parent
PLAY = """
import json, os, sys, time
from importlib import import_module
from coach.sound import outputs, player as players
from tests.sound.tape import noise

seconds, backends, output, pause_s, resume_lost, deaf = json.loads(sys.argv[1])
players._PATIENCE_POLLS = 20
outputs._backends = lambda: [import_module(f"coach.sound.backends.{name}") for name in backends]
outputs.NAMED_AWAY_S = 2.0
find_again = outputs._find_again

def find(*about):
    if os.path.exists(deaf):
        return None
    found = find_again(*about)
    print("looked", flush=True)
    return found

outputs._find_again = find
with outputs.open_player(noise(seconds), output) as player:
    kind = type(player._device).__name__
    player.start()
    print("playing", flush=True)
    heard, notes, paused = [], [], pause_s == 0
    while not player.finished:
        time.sleep(0.02)
        now = time.perf_counter()
        heard.append((now, player.position_s(now), player.paused))
        if player.note not in (None, *notes[-1:]):
            notes.append(player.note)
            print(player.note, flush=True)
        if not paused and heard[-1][1] > seconds / 2:
            paused = True
            player.pause()
            time.sleep(pause_s)
            player.resume()
        if resume_lost and player.lost and player.paused:
            player.resume()
    print(json.dumps({"heard": heard, "notes": notes, "underruns": player.underruns,
                      "kind": kind, "lost": player.lost}))
"""


class Playing:
    """A child process that plays noise, and what it says."""

    def __init__(
        self,
        sink: NullSink,
        seconds: float,
        *backends: str,
        output: str | None = None,
        pause_s: float = 0.0,
        resume_lost: bool = False,
    ) -> None:
        about = json.dumps([seconds, backends, output, pause_s, resume_lost, str(deaf(sink))])
        self.child = subprocess.Popen(
            [sys.executable, "-c", PLAY, about],
            env=sink.environment,
            cwd=REPOSITORY,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def until(self, words: str) -> None:
        """Wait for a line with these words."""
        assert self.child.stdout is not None and self.child.stderr is not None
        for line in self.child.stdout:
            if words in line:
                return
        pytest.fail(self.child.stderr.read())

    def report(self) -> dict[str, Any]:
        """What it tells at its end; nothing may have disturbed the screen."""
        out, err = self.child.communicate(timeout=60)
        assert (self.child.returncode, err) == (0, "")
        found: dict[str, Any] = json.loads(out.splitlines()[-1])
        return found


@dataclass(frozen=True)
class Run:
    """Frames of the tape that were recorded one after the other, as they are."""

    at: int
    first: int
    count: int

    @property
    def end(self) -> int:
        return self.first + self.count


def run_in(recorded: Samples, tape: Samples, moment: int) -> Run:
    """The longest unbroken part of the tape around one of its moments, in a recording."""
    shape = tape[moment : moment + RATE // 20]
    likeness = correlate(recorded, shape, "valid")
    offset = int(likeness.argmax()) - moment
    low, high = max(0, -offset), min(len(tape), len(recorded) - offset)
    # A null sink keeps 16 bits.
    same = np.abs(recorded[low + offset : high + offset] - tape[low:high]) < 1e-4
    assert same[moment - low], "this moment of the tape is not in the recording"
    broken = np.flatnonzero(~same) + low
    first = int(max(broken[broken < moment], default=low - 1)) + 1
    end = int(min(broken[broken > moment], default=high))
    return Run(first + offset, first, end - first)


def position(report: dict[str, Any], when: float) -> float:
    """Where the player said that it was."""
    times, positions, _ = np.array(report["heard"]).T
    return float(np.interp(when, times, positions))


@pytest.fixture
def busy() -> Iterator[None]:
    """Every processor has something else to do."""
    burners = [multiprocessing.Process(target=_burn) for _ in range(os.cpu_count() or 1)]
    for burner in burners:
        burner.start()
    yield
    for burner in burners:
        burner.kill()
        burner.join()


def _burn() -> None:
    while True:
        sum(range(10_000))


BACKENDS = [("portaudio", "PortAudioDevice"), ("miniaudio", "MiniaudioDevice")]


@pytest.mark.parametrize(("backend", "kind"), BACKENDS)
def test_every_sample_is_heard_in_its_place_and_the_position_says_when(
    null_sink: NullSink, backend: str, kind: str
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    report = Playing(null_sink, 3, backend).report()
    time.sleep(0.2)
    recording = null_sink.stop_recording()
    assert (report["kind"], report["notes"], report["underruns"]) == (kind, [], 0)
    run = run_in(recording.samples, tape.samples, RATE)
    assert run.first < SWALLOWED and run.end == tape.length
    for second in (0.5, 1, 2, 2.5):
        heard_at = recording.started_at + (run.at - run.first) / RATE + second
        # The recording's own time is good to about 10 ms.
        assert position(report, heard_at) == pytest.approx(second, abs=0.015)


def test_every_sample_is_heard_in_its_place_while_the_processors_are_busy(
    null_sink: NullSink, busy: None
) -> None:
    tape = noise(5)
    null_sink.start_recording()
    report = Playing(null_sink, 5, "portaudio").report()
    time.sleep(0.3)
    run = run_in(null_sink.stop_recording().samples, tape.samples, RATE)
    assert run.first < SWALLOWED and run.end == tape.length and report["underruns"] == 0


def test_a_pause_loses_and_repeats_nothing_and_the_position_stays_true(
    null_sink: NullSink,
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    report = Playing(null_sink, 3, "portaudio", pause_s=0.7).report()
    time.sleep(0.2)
    recording = null_sink.stop_recording()
    before = run_in(recording.samples, tape.samples, RATE)
    after = run_in(recording.samples, tape.samples, 2 * RATE)
    assert before.first < SWALLOWED and before.end == after.first and after.end == tape.length
    assert after.at - before.at - before.count == pytest.approx(0.7 * RATE, abs=0.1 * RATE)
    for run, second in ((before, 1), (after, 2)):
        heard_at = recording.started_at + (run.at - run.first) / RATE + second
        assert position(report, heard_at) == pytest.approx(second, abs=0.015)


def deaf(sink: NullSink) -> Path:
    """As long as this file is there, the player does not look for devices."""
    return sink.folder / "deaf"


@contextmanager
def ready_to_record(sink: NullSink, name: str | None = None) -> Iterator[None]:
    """Give a device, and have it recorded before anybody plays on it."""
    deaf(sink).touch()
    yield
    sink.start_recording(*([name] if name else []))
    deaf(sink).unlink()


@pytest.mark.parametrize(
    ("backend", "take", "give"),
    [
        ("portaudio", NullSink.take_away, NullSink.give),
        ("portaudio", NullSink.close, NullSink.start_server),
        ("miniaudio", NullSink.take_away, NullSink.give),
    ],
)
def test_a_device_taken_away_and_given_back_pauses_the_run_and_nothing_is_lost(
    null_sink: NullSink,
    backend: str,
    take: Callable[[NullSink], None],
    give: Callable[[NullSink], None],
) -> None:
    tape = noise(3)
    null_sink.start_recording()
    playing = Playing(null_sink, 3, backend)
    playing.until("playing")
    time.sleep(1.5)
    take(null_sink)
    heard = null_sink.stop_recording().samples
    playing.until("looked")
    with ready_to_record(null_sink):
        give(null_sink)
    report = playing.report()
    time.sleep(0.2)
    again = null_sink.stop_recording().samples

    lost, back = report["notes"]
    assert lost.startswith("The sound device is gone: paused; ") and not report["lost"]
    assert back.startswith("Sound is back on ") and back.endswith(": going on.")
    stood = {round(at * RATE) for _, at, paused in report["heard"] if paused}
    assert len(stood) == 1
    here = stood.pop()
    before = run_in(heard, tape.samples, RATE // 2)
    after = run_in(again, tape.samples, round(2.5 * RATE))
    print(f"last heard {before.end / RATE:.3f} s, stood {here / RATE:.3f} s")
    assert before.first < SWALLOWED and after.end == tape.length
    assert 0 <= before.end - here < 0.15 * RATE
    assert 0 <= after.first - (here - round(GO_BACK_S * RATE)) < SWALLOWED
    assert report["underruns"] == 0


def test_who_goes_on_without_sound_hears_it_again_where_the_run_is(null_sink: NullSink) -> None:
    tape = noise(5)
    null_sink.start_recording()
    playing = Playing(null_sink, 5, "portaudio", resume_lost=True)
    playing.until("playing")
    time.sleep(0.7)
    null_sink.take_away()
    null_sink.stop_recording()
    playing.until("Going on without sound")
    with ready_to_record(null_sink):
        null_sink.give()
    playing.until("Sound is back")
    report = playing.report()
    time.sleep(0.2)
    recording = null_sink.stop_recording()
    run = run_in(recording.samples, tape.samples, round(4.5 * RATE))
    assert run.end == tape.length and not report["lost"]
    # It stood where it was heard when the device asked last.
    assert min(np.diff([at for _, at, _ in report["heard"]])) > -0.1
    heard_at = recording.started_at + (run.at - run.first) / RATE + 4.5
    assert position(report, heard_at) == pytest.approx(4.5, abs=0.015)


def test_a_named_device_that_stays_away_is_replaced_by_the_usual_one(null_sink: NullSink) -> None:
    tape = noise(3)
    null_sink.start_recording()
    playing = Playing(null_sink, 3, "portaudio", "miniaudio", output="Null Output")
    playing.until("playing")
    time.sleep(1)
    null_sink.take_away()
    null_sink.stop_recording()
    playing.until("The sound device is gone")
    with ready_to_record(null_sink, "attic"):
        null_sink.give("attic", "the-attic")
    report = playing.report()
    time.sleep(0.2)
    after = run_in(null_sink.stop_recording().samples, tape.samples, round(2.5 * RATE))
    assert after.end == tape.length and after.first < RATE
    assert report["notes"][1] == "Null Output stayed away; sound is on default now: going on."


def test_a_program_that_is_halted_and_goes_on_has_not_lost_its_device(
    null_sink: NullSink,
) -> None:
    null_sink.start_recording()
    playing = Playing(null_sink, 2, "portaudio")
    playing.until("playing")
    time.sleep(0.7)
    playing.child.send_signal(signal.SIGSTOP)
    time.sleep(1.5)
    playing.child.send_signal(signal.SIGCONT)
    report = playing.report()
    positions = [at for _, at, _ in report["heard"]]
    assert report["notes"] == [] and report["underruns"] >= 1
    assert max(np.diff(positions)) < 0.5


def test_what_can_be_played_on_is_listed(null_sink: NullSink) -> None:
    code = (
        "from coach.sound.outputs import outputs\n"
        "for output in outputs(): print(output.name, output.backend, output.usual)"
    )
    assert told(null_sink, code) == (
        "pulse PortAudio False\ndefault PortAudio True\nNull Output miniaudio False\n"
        "silent captions only False\n"
    )


def test_without_the_portaudio_library_miniaudio_carries_the_sound(null_sink: NullSink) -> None:
    code = (
        "import ctypes.util; ctypes.util.find_library = lambda name: None\n"
        "from coach.sound import outputs; from tests.sound.tape import noise\n"
        "with outputs.open_player(noise(1)) as player:\n"
        "    print(type(player._device).__name__, player.note)"
    )
    assert told(null_sink, code) == "MiniaudioDevice None\n"


def test_a_screen_that_asks_for_the_position_all_the_time_does_not_starve_the_device(
    null_sink: NullSink,
) -> None:
    code = (
        "import time; from coach.sound import outputs; from tests.sound.tape import noise\n"
        "player = outputs.open_player(noise(10))\n"
        "player.start(); time.sleep(0.5); end = time.perf_counter() + 3; off = []\n"
        "while (now := time.perf_counter()) < end:\n"
        "    sum(i * i for i in range(60_000)); off.append(now - player.position_s(now))\n"
        "player.stop(); print(player.underruns, player.lost, max(off) - min(off) < 0.01)"
    )
    null_sink.start_recording()
    assert told(null_sink, code) == "0 False True\n"


def told(sink: NullSink, code: str) -> str:
    """What a program of its own prints; it may say nothing else."""
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=sink.environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert child.stderr == ""
    return child.stdout
