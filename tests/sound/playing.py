"""Noise played into a null sink by a program of its own, and found again in what was recorded."""

from __future__ import annotations

import json
import subprocess
import sys
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

from .null_sink import NullSink, Recording, ahead

SWALLOWED = RATE // 100
"""The server loses a few milliseconds at the start of every stream, whoever plays it."""

ENDS_EARLY = RATE // 50
"""Playing ends once the position says so, which is good to 15 ms; what is buffered is dropped."""

QUIET = 1e-4
"""A null sink keeps 16 bits."""

EDGE = RATE // 1000

REPOSITORY = Path(coach.__file__).parent.parent
PLAY = """
import json, os, sys, time
from importlib import import_module
from coach.sound import outputs
from coach.sound.clip import RATE
from tests.sound.tape import Tape, noise

seconds, backends, output, pause_s, resume_lost, known_s, deaf = json.loads(sys.argv[1])
tape = noise(seconds)
begin = tape if known_s is None else Tape(tape.samples[: round(known_s * RATE)], whole=False)
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
with outputs.open_player(begin, output) as player:
    kind = type(player._device).__name__
    player.start()
    print("playing", flush=True)
    heard, asked, notes, paused, second = [], [], [], pause_s == 0, 0
    stood_s, happened = 0.0, False
    while not player.finished:
        time.sleep(0.02)
        now = time.perf_counter()
        heard.append((now, player.position_s(now), player.paused))
        asked.append(player._asked_at)
        if int(heard[-1][1]) > second:
            second = int(heard[-1][1])
            print(f"heard {second} s", flush=True)
        if player.note not in (None, *notes[-1:]):
            notes.append(player.note)
            print(player.note, flush=True)
        if not paused and heard[-1][1] > seconds / 2:
            paused = True
            player.pause()
            time.sleep(pause_s)
            player.resume()
            stood_s = time.perf_counter() - now
        happened = happened or player.lost or (len(heard) > 1 and now - heard[-2][0] > 1.0)
        if resume_lost and player.lost and player.paused:
            player.resume()
        if happened and begin is not tape and (player.paused or not player.lost):
            begin = tape
            player.extend(tape)
    print(json.dumps({"heard": heard, "notes": notes, "underruns": player.underruns,
                      "kind": kind, "lost": player.lost, "asked": asked,
                      "stood_s": stood_s}))
"""


class Playing:
    """A child process that plays noise, and what it says.

    Of ``known_s`` seconds alone it knows until its device is gone (and it stands, or has another
    one) or it was halted: however late a busy machine lets that happen, the noise is not over.
    Its ``priority`` is called as it begins, and tells the system how much to favour it.
    """

    def __init__(
        self,
        sink: NullSink,
        seconds: float,
        *backends: str,
        output: str | None = None,
        pause_s: float = 0.0,
        resume_lost: bool = False,
        known_s: float | None = None,
        priority: Callable[[], None] = ahead,
    ) -> None:
        about = json.dumps(
            [seconds, backends, output, pause_s, resume_lost, known_s, str(deaf(sink))]
        )
        self.child = subprocess.Popen(
            [sys.executable, "-c", PLAY, about],
            env=sink.environment,
            cwd=REPOSITORY,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=priority,
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
        out, err = self.child.communicate(timeout=120)
        assert (self.child.returncode, err) == (0, "")
        found: dict[str, Any] = json.loads(out.splitlines()[-1])
        return found


def recorded(sink: NullSink) -> Recording:
    """What was recorded until now; skips where that stumbled."""
    recording = sink.stop_recording()
    recording.is_steady()
    return recording


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
    same = np.abs(recorded[low + offset : high + offset] - tape[low:high]) < QUIET
    assert same[moment - low], "this moment of the tape is not in the recording"
    broken = np.flatnonzero(~same) + low
    first = int(max(broken[broken < moment], default=low - 1)) + 1
    end = int(min(broken[broken > moment], default=high))
    return Run(first + offset, first, end - first)


def steady(recorded: Samples, *runs: Run) -> None:
    """Skips where the tape goes on beyond these runs after a silence that nobody asked for.

    That is how it sounds where a busy machine's sound server was given nothing in time, which it
    may keep to itself; the coach counts as an underrun whatever it did not have ready.
    """
    beyond = np.abs(recorded) > QUIET
    for run in runs:
        beyond[run.at : run.at + run.count] = False
    places = np.flatnonzero(beyond)
    if not len(places):
        return
    edges = [recorded[max(0, run.at - EDGE) : run.at] for run in runs if places[0] < run.at]
    edges += [
        recorded[end : end + EDGE]
        for end in (run.at + run.count for run in runs)
        if places[-1] >= end
    ]
    if all((np.abs(edge) <= QUIET).all() for edge in edges):
        pytest.skip("this machine is too busy to play sound without a stumble")


def is_true(report: dict[str, Any], recording: Recording, run: Run, begin_s: float) -> None:
    """The player's position was what was heard, from a second of the tape to the end of a run.

    The recording's own time is good to about 10 ms. A server that is held up for a moment plays
    late and catches up, which the position says and the samples do not show: so the middle one of
    many differences counts, and the others only roughly.
    """
    times, positions, _ = np.array(report["heard"]).T
    begun = recording.started_at + (run.at - run.first) / RATE
    in_run = (times >= begun + begin_s) & (times <= begun + run.end / RATE - 0.1)
    off = positions[in_run] - (times[in_run] - begun)
    assert len(off) > 5
    assert abs(np.median(off)) <= 0.015 and np.abs(off).max() <= 0.1, off


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


def told(sink: NullSink, code: str) -> str:
    """What a program of its own prints; it may say nothing else."""
    child = subprocess.run(
        [sys.executable, "-c", code],
        env=sink.environment,
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=ahead,
    )
    assert child.stderr == ""
    return child.stdout
