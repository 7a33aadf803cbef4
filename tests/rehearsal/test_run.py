"""A whole rehearsal: a real terminal, a real voice, real PortAudio into a null sink."""

from __future__ import annotations

import contextlib
import fcntl
import itertools
import json
import os
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import correlate

from coach.flight.day import Day
from coach.logbook.logbook import Logbook
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.sound.clip import RATE, Samples
from coach.sound.soundtrack import PEAK
from tests.sound.null_sink import NullSink, Recording

pty = pytest.importorskip("pty", reason="no pseudo-terminals here")

KITE = str(Path(__file__).parents[1] / "kite.yaml")
DAY = Day(loops=1)
COMMAND = (sys.executable, "-m", "coach", "rehearse", "lazy-eight", "--airplane", KITE,
           "--loops", "1")  # fmt: skip


class Terminal:
    """The student's end of a terminal in which the coach runs."""

    def __init__(self, environment: dict[str, str], command: Sequence[str]) -> None:
        self.hand, far = pty.openpty()
        fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.coach = subprocess.Popen(
            command,
            stdin=far,
            stdout=far,
            stderr=far,
            env=environment,
            start_new_session=True,
            # The terminal is the coach's own, so that Ctrl-C and hanging up reach it.
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )
        os.close(far)
        self.seen = b""
        self.first_seen: float | None = None
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            while chunk := os.read(self.hand, 65536):
                self.seen += chunk

    def press(self, key: bytes) -> float:
        """Press a key; when it was pressed, on perf_counter."""
        at = time.perf_counter()
        os.write(self.hand, key)
        return at

    def wait_for(self, words: bytes, limit_s: float = 60.0) -> None:
        deadline = time.monotonic() + limit_s
        while words not in self.seen:
            assert time.monotonic() < deadline, self.seen[-2000:]
            if self.coach.poll() is not None:
                self._reader.join(10.0)  # its last words may still be on their way
                assert words in self.seen, self.seen[-2000:]
            time.sleep(0.01)


@contextlib.contextmanager
def at_terminal(
    environment: dict[str, str], command: Sequence[str] = COMMAND
) -> Iterator[Terminal]:
    terminal = Terminal({**environment, "TERM": "xterm-256color", "LANG": "C.UTF-8"}, command)
    try:
        yield terminal
    finally:
        terminal.coach.kill()
        terminal.coach.wait()
        with contextlib.suppress(OSError):
            os.close(terminal.hand)


@pytest.fixture
def ready(home: Path) -> Rehearsal:
    """The same rehearsal as the coach's own, whose phrases lie in the same cache."""
    return prepare(fly("lazy-eight", KITE, DAY), DAY)


def debriefed(home: Path) -> dict[str, object]:
    told = subprocess.run(
        [sys.executable, "-m", "coach", "debrief", "--json"],
        env={**os.environ, "COACH_HOME": str(home)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    found: dict[str, object] = json.loads(told.stdout)["run"]
    return found


def tone_places(heard: Samples, ready: Rehearsal, name: str) -> list[int]:
    """Where in a recording is heard what the soundtrack has at each tone of a name."""

    def planned(begin_s: float, length_s: float) -> tuple[int, Samples]:
        begin = round(begin_s * RATE)
        return begin, ready.soundtrack.frames(begin, round(length_s * RATE)).mean(axis=1)

    # The whole introduction is like nothing that comes later.
    first, shape = planned(0.0, ready.sheet.flight_start_s)
    origin = int(correlate(heard, shape, "valid").argmax()) - first
    found = []
    for cue in ready.sheet.cues:
        if cue.tone == name:
            begin, shape = planned(cue.start_s, 0.25)
            near = origin + begin - RATE // 10
            likeness = correlate(heard[near : near + RATE // 5 + len(shape)], shape, "valid")
            found.append(near + int(likeness.argmax()))
    return found


def rehearsed(null_sink: NullSink, ready: Rehearsal, home: Path) -> tuple[Recording, list[float]]:
    """Rehearse; what was heard, and when each checkpoint but the last was tapped."""
    meant = [0.25, -0.4, 0.6]
    null_sink.start_recording()
    with at_terminal({**null_sink.environment, "COACH_HOME": str(home)}) as terminal:
        terminal.wait_for(b"start over")
        began = time.perf_counter()
        pressed = []
        for moment, error in zip(ready.flight.moments, meant, strict=False):
            when = began + ready.sheet.flight_start_s + moment.time_s + error
            time.sleep(max(0.0, when - time.perf_counter()))
            pressed.append(terminal.press(b" "))
        terminal.wait_for(b"licensed instructor", limit_s=90.0)
        assert terminal.coach.wait(60) == 0
    return null_sink.stop_recording(), pressed


def test_what_is_heard_is_the_plan_and_what_is_tapped_is_what_is_kept(
    null_sink: NullSink, ready: Rehearsal, home: Path
) -> None:
    sheet = ready.sheet
    planned = [cue.start_s for cue in sheet.cues if cue.tone == "checkpoint"]
    for _ in range(3):  # a busy machine's sound, or its recording, stumbles now and then
        recording, pressed = rehearsed(null_sink, ready, home)
        heard = recording.samples
        places = tone_places(heard, ready, "checkpoint")
        off_ms = [
            1000.0 * ((place - places[0]) / RATE - (plan - planned[0]))
            for place, plan in zip(places, planned, strict=True)
        ]
        if np.abs(off_ms).max() <= 1.0:
            break
    # Every checkpoint tone within 1 ms of its planned place relative to the first.
    assert np.abs(off_ms).max() <= 1.0

    # Every phrase recognisable at its place, none overlapping another, nothing clipped.
    origin = places[0] - round(planned[0] * RATE)
    spoken = [cue for cue in sheet.cues if cue.phrase]
    for cue in spoken:
        begin, end = round(cue.start_s * RATE), round(cue.end_s * RATE)
        wanted = ready.soundtrack.frames(begin, end - begin).mean(axis=1)
        got = heard[origin + begin : origin + end]
        assert np.corrcoef(wanted, got)[0, 1] > 0.95, cue.phrase
    assert all(a.end_s < b.start_s for a, b in itertools.pairwise(spoken))
    assert np.abs(heard).max() <= PEAK

    # The taps, against when the keys were pressed and when the start tone was heard.
    start = recording.started_at + (origin / RATE + sheet.flight_start_s)
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.ended == "finished"
    truth = [press - start for press in pressed]
    errors_ms = [1000.0 * (kept - true) for kept, true in zip(run.taps_s, truth, strict=True)]
    print("tap errors, ms:", [round(error, 1) for error in errors_ms])
    assert np.abs(errors_ms).max() <= 15.0


def test_a_killed_rehearsal_keeps_its_taps(home: Path, ready: Rehearsal) -> None:
    environment = {**os.environ, "COACH_OUTPUT": "silent"}
    with at_terminal(environment) as terminal:
        terminal.wait_for(b"start over")
        time.sleep(ready.sheet.flight_start_s + 2.0)
        first = terminal.press(b" ")
        time.sleep(1.0)
        second = terminal.press(b" ")
        time.sleep(1.0)  # a tap is on disk within a second
        os.killpg(terminal.coach.pid, signal.SIGKILL)
        terminal.coach.wait(60)
    kept = debriefed(home)
    assert kept["ended"] == "interrupted"
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and len(run.taps_s) == 2
    assert run.taps_s[1] - run.taps_s[0] == pytest.approx(second - first, abs=0.1)


@pytest.mark.parametrize(("how", "ended"), [("q", "stopped"), ("ctrl-c", "stopped"),
                                            ("closed", "interrupted")])  # fmt: skip
def test_a_run_that_is_stopped_early_is_kept(
    how: str, ended: str, home: Path, ready: Rehearsal
) -> None:
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        terminal.wait_for(b"start over")
        time.sleep(ready.sheet.flight_start_s + 1.5)
        if how == "closed":
            os.close(terminal.hand)
        else:
            terminal.press({"q": b"q", "ctrl-c": b"\x03"}[how])
        terminal.coach.wait(60)
    assert debriefed(home)["ended"] == ended


def test_pause_and_start_over_keep_the_clock_right(home: Path, ready: Rehearsal) -> None:
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        terminal.wait_for(b"start over")
        lead = ready.sheet.flight_start_s
        began = time.perf_counter()
        time.sleep(lead + 1.0)
        terminal.press(b"p")
        time.sleep(1.5)
        terminal.press(b" ")  # while paused: no tap
        terminal.press(b"p")
        time.sleep(1.0)
        tapped = terminal.press(b" ")
        time.sleep(0.2)
        terminal.press(b"r")
        time.sleep(0.5)
        terminal.press(b"q")
        terminal.wait_for(b"Debrief, run 1")  # of the attempt before the start over
        terminal.coach.wait(60)
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.ended == "stopped"
    assert len(run.taps_s) == 1
    # The screen tells of the start, and the coach looks at the keys, fifteen times a second.
    assert run.taps_s[0] == pytest.approx(tapped - began - lead - 1.5, abs=0.6)


def test_a_group_at_one_keyboard_has_a_run_each(home: Path, ready: Rehearsal) -> None:
    command = (*COMMAND, "--tappers", "Ada=a, Bo=l")
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}, command) as terminal:
        terminal.wait_for(b"start over")
        time.sleep(ready.sheet.flight_start_s + 1.0)
        ada = terminal.press(b"a")
        time.sleep(0.5)
        bo = terminal.press(b"l")
        time.sleep(0.5)
        terminal.press(b"l")
        terminal.press(b" ")  # nobody's key
        time.sleep(0.5)
        terminal.press(b"q")
        terminal.wait_for(b"Bo")
        terminal.coach.wait(60)
    with Logbook() as logbook:
        runs = {run.student: run for run in logbook.runs()}
    assert {name: len(run.taps) for name, run in runs.items()} == {"Ada": 1, "Bo": 2}
    assert runs["Bo"].taps_s[0] - runs["Ada"].taps_s[0] == pytest.approx(bo - ada, abs=0.1)
    assert all(run.ended == "stopped" and run.score is not None for run in runs.values())


def test_a_number_is_kept_and_a_key_held_down_is_one_tap(home: Path, ready: Rehearsal) -> None:
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        terminal.wait_for(b"start over")
        time.sleep(ready.sheet.flight_start_s + 1.0)
        number = terminal.press(b"3")
        time.sleep(1.0)
        tapped = terminal.press(b" ")
        time.sleep(0.4)  # what a terminal sends for a key held down
        for _ in range(20):
            terminal.press(b" ")
            time.sleep(0.033)
        time.sleep(0.5)
        terminal.press(b"q")
        terminal.coach.wait(60)
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None
    assert [tap.value for tap in run.taps] == [30.0, None]
    assert run.taps_s[1] - run.taps_s[0] == pytest.approx(tapped - number, abs=0.1)
