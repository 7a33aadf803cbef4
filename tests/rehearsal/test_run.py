"""A rehearsal: with a real terminal, a real voice and PortAudio into a null sink, and in no time."""

from __future__ import annotations

import contextlib
import fcntl
import itertools
import os
import select
import signal
import sqlite3
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import correlate

from coach.flight.day import Day
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.rehearsal.run import FRAME_S, run
from coach.sound.clip import RATE, Samples
from coach.sound.soundtrack import PEAK
from coach.taps.pressing import Press
from tests.sound.crank import until
from tests.sound.hurried import Hurried
from tests.sound.null_sink import NullSink, ahead

pty = pytest.importorskip("pty", reason="no pseudo-terminals here")

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)
DAY = Day(loops=1)
COMMAND = (sys.executable, "-m", "coach", "rehearse", QUICK_TURN, "--airplane", KITE)


class Terminal:
    """The student's end of a terminal in which the coach runs."""

    def __init__(
        self, environment: dict[str, str], command: Sequence[str], priority: Callable[[], None]
    ) -> None:
        def at_its_terminal() -> None:
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # its own, so Ctrl-C and hanging up reach it
            priority()

        self.hand, far = pty.openpty()
        fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.coach = subprocess.Popen(
            command,
            stdin=far,
            stdout=far,
            stderr=far,
            env=environment,
            start_new_session=True,
            preexec_fn=at_its_terminal,
        )
        self._name = os.ttyname(far)
        os.close(far)
        self.seen = b""
        self._over = threading.Event()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):  # nobody is at the far end any more
            while not self._over.is_set():
                if select.select([self.hand], [], [], 0.05)[0]:
                    if not (chunk := os.read(self.hand, 65536)):
                        return
                    self.seen += chunk

    def close(self) -> None:
        """Close it, as a window is.

        Nobody reads it by then: its number is that of the next terminal, whose words a reader who is
        late would take.
        """
        self._over.set()
        self._reader.join()
        if self.hand >= 0:
            os.close(self.hand)
            self.hand = -1

    def press(self, key: bytes) -> tuple[float, float]:
        """Press a key; when it was pressed, and when the coach had surely read it.

        Both on perf_counter, which is one clock for all processes. On a busy machine they differ.
        """
        at = time.perf_counter()
        os.write(self.hand, key)
        far = os.open(self._name, os.O_RDONLY | os.O_NOCTTY)
        while fcntl.ioctl(far, termios.FIONREAD, b"1234") != bytes(4):
            time.sleep(0.001)
        os.close(far)
        return at, time.perf_counter()

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
    environment: dict[str, str],
    command: Sequence[str] = COMMAND,
    priority: Callable[[], None] = ahead,
) -> Iterator[Terminal]:
    environment = {**environment, "TERM": "xterm-256color", "LANG": "C.UTF-8"}
    terminal = Terminal(environment, command, priority)
    try:
        yield terminal
    finally:
        terminal.coach.kill()
        terminal.coach.wait()
        terminal.close()


@pytest.fixture
def ready(home: Path) -> Rehearsal:
    """The same rehearsal as the coach's own, whose phrases lie in the same cache."""
    return prepare(fly(QUICK_TURN, KITE, Day()), Day())


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


def test_what_is_heard_is_the_plan_and_what_is_tapped_is_what_is_kept(
    null_sink: NullSink, ready: Rehearsal
) -> None:
    sheet = ready.sheet
    first = next(cue for cue in sheet.cues if cue.phrase and cue.start_s > sheet.flight_start_s)
    assert first.phrase is not None
    null_sink.start_recording()
    with at_terminal(null_sink.environment) as terminal:
        # By its caption and not by the screen's first picture: the count-in may be waited for.
        terminal.wait_for(first.phrase.text.encode())
        began = time.perf_counter() - first.start_s
        pressed = []
        for moment, error_s in zip(ready.flight.moments, (0.25, -0.4, 0.6), strict=True):
            when = began + sheet.flight_start_s + moment.time_s + error_s
            time.sleep(max(0.0, when - time.perf_counter()))
            pressed.append(terminal.press(b" "))
        terminal.wait_for(b"licensed instructor", limit_s=90.0)
        assert terminal.coach.wait(60) == 0
    recording = null_sink.stop_recording()
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.ended == "finished" and len(run.taps) == len(pressed)
    recording.is_steady(stumbled=b"The sound ran dry" in terminal.seen)

    # Every checkpoint tone within 1 ms of its planned place relative to the first.
    heard = recording.samples
    planned = [cue.start_s for cue in sheet.cues if cue.tone == "checkpoint"]
    places = tone_places(heard, ready, "checkpoint")
    off_ms = [
        1000.0 * ((place - places[0]) / RATE - (plan - planned[0]))
        for place, plan in zip(places, planned, strict=True)
    ]
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

    # The taps, against when the keys were pressed and when the start tone was heard. None can be
    # before its key; one may be late where the coach waited for a disk between reading and looking
    # at the clock, which cannot be seen from outside, but not the middle one.
    start = recording.started_at + (origin / RATE + sheet.flight_start_s)
    off = [
        (start + kept_s - at, start + kept_s - read_by)
        for kept_s, (at, read_by) in zip(run.taps_s, pressed, strict=True)
    ]
    print("taps off by", [f"{1000 * early:.1f} ms, read {1000 * late:.1f}" for early, late in off])
    assert min(early for early, _ in off) >= -0.015
    late = sorted(late for _, late in off)
    assert late[len(late) // 2] <= 0.015 and late[-1] <= 0.5


def test_a_killed_rehearsal_keeps_its_taps(home: Path, ready: Rehearsal) -> None:
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        for caption in (b"Roll in.", b"Half way."):
            terminal.wait_for(caption)
            terminal.press(b" ")
        until(lambda: taps_on_disk(home) == 2)
        os.killpg(terminal.coach.pid, signal.SIGKILL)
        terminal.coach.wait(60)
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.ended == "interrupted" and len(run.taps) == 2


def taps_on_disk(home: Path) -> int:
    """As another process finds them, while the run goes on."""
    with contextlib.closing(sqlite3.connect(home / "logbook.sqlite3")) as db:
        found: int = db.execute("SELECT count(*) FROM taps").fetchone()[0]
    return found


def test_a_run_whose_terminal_is_closed_is_kept(ready: Rehearsal) -> None:
    with at_terminal({**os.environ, "COACH_OUTPUT": "silent"}) as terminal:
        terminal.wait_for(b"Roll in.")
        terminal.close()
        terminal.coach.wait(60)
    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.ended == "interrupted"


class Fingers:
    """Press keys at seconds of a run, in a time that is over at once."""

    def __init__(self, presses: Iterable[tuple[float, str]]) -> None:
        self.timekeeper = Hurried()
        begun = self.timekeeper.now()
        self._left = [Press(key, begun + at_s) for at_s, key in presses]

    def presses(self) -> list[Press]:
        now = self.timekeeper.now()
        due = [press for press in self._left if press.at <= now]
        self._left = self._left[len(due) :]
        return due


def flown(
    ready: Rehearsal,
    *presses: tuple[float, str],
    students: dict[str, str] | None = None,
    show: Callable[[Progress], None] = lambda _: None,
    logbook: Logbook | None = None,
) -> tuple[Done, dict[str, Run]]:
    """How it ended, and each student's run; keys are pressed so long after the first moment."""
    fingers = Fingers((ready.sheet.flight_start_s + at_s, key) for at_s, key in presses)
    with contextlib.nullcontext(logbook) if logbook else Logbook() as book:
        done = run(
            ready, fingers, book, show,
            output="silent", students=students, timekeeper=fingers.timekeeper,
        )  # fmt: skip
        return done, {kept.student: kept for kept in map(book.run, done.numbers)}


@pytest.mark.parametrize(
    ("key", "ended"), [("q", "stopped"), ("ctrl-c", "stopped"), ("closed", "interrupted")]
)
def test_a_run_that_is_stopped_early_is_kept(key: str, ended: str, ready: Rehearsal) -> None:
    done, runs = flown(ready, (1.5, key))
    assert not done.finished and done.left == (key != "q")
    assert runs[""].ended == ended
    assert runs[""].reached_s == pytest.approx(1.5, abs=0.1)


def test_a_run_that_nobody_stops_is_flown_to_its_end(ready: Rehearsal) -> None:
    done, runs = flown(ready)
    assert done.finished and done.note == "" and runs[""].ended == "finished"
    assert runs[""].reached_s == ready.flight.length_s


def test_a_tap_is_on_disk_within_a_second(home: Path, ready: Rehearsal) -> None:
    taps: dict[float, int] = {}

    def show(progress: Progress) -> None:
        flown_s = ready.sheet.flight_s(progress.position_s)
        if flown_s > 0.2:
            taps[flown_s] = taps_on_disk(home)

    flown(ready, (1.0, "space"), (2.5, "q"), show=show)
    assert all(count == 0 for at_s, count in taps.items() if at_s < 1.0)
    assert all(count == 1 for at_s, count in taps.items() if at_s > 2.0)


def test_pause_and_start_over_keep_the_clock_right(ready: Rehearsal) -> None:
    paused = ((1.0, "p"), (1.5, "space"), (2.5, "p"))  # while paused: no tap
    done, runs = flown(ready, *paused, (3.5, "space"), (3.7, "r"), (4.2, "q"))
    assert done.numbers == (1,)  # of the attempt before the start over
    assert runs[""].ended == "stopped"
    # The coach looks at the keys fifteen times a second.
    assert runs[""].taps_s == pytest.approx([2.0], abs=2 * FRAME_S)


def test_a_false_start_leaves_nothing_and_the_next_attempt_is_whole(ready: Rehearsal) -> None:
    start_s = ready.sheet.flight_start_s
    first_s = ready.flight.moments[0].time_s
    # In the introduction, in the count-in with a tap, and on the way to the first checkpoint.
    for at_s in (2.0 - start_s, -0.2, first_s - 0.3):
        again_s = at_s + start_s
        done, _ = flown(
            ready, (min(at_s - 0.3, -0.5), "space"), (at_s, "r"), (again_s + first_s, "space"),
        )  # fmt: skip
        assert done.finished
        with Logbook() as logbook:
            (kept,) = logbook.runs()
            assert (kept.id, kept.ended) == (done.numbers[0], "finished")
            assert kept.taps_s == pytest.approx([first_s], abs=2 * FRAME_S)
            logbook.forget("")


def test_a_group_at_one_keyboard_has_a_run_each(ready: Rehearsal) -> None:
    _, runs = flown(
        ready, (1.0, "a"), (1.5, "l"), (2.0, "l"), (2.1, "space"), (2.5, "q"),
        students={"a": "Ada", "l": "Bo"},
    )  # fmt: skip
    assert {name: run.taps_s for name, run in runs.items()} == {
        "Ada": pytest.approx([1.0], abs=1e-3),
        "Bo": pytest.approx([1.5, 2.0], abs=1e-3),
    }
    assert all(run.ended == "stopped" and run.score is not None for run in runs.values())


def test_a_number_is_kept_and_a_key_held_down_is_one_tap(ready: Rehearsal) -> None:
    # What a terminal sends for a key held down.
    held = ((2.4 + 0.033 * repeat, "space") for repeat in range(20))
    _, runs = flown(ready, (1.0, "3"), (2.0, "space"), *held, (3.6, "q"))
    assert [tap.value for tap in runs[""].taps] == [30.0, None]
    assert runs[""].taps_s == pytest.approx([1.0, 2.0], abs=1e-3)
