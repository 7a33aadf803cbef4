"""Promises of a run that is flown with a phone in the hand, in a time that is over at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coach.debrief.debrief import debrief
from coach.flight.day import Day
from coach.hand.grip import EASY, Grip
from coach.hand.readings import Readings
from coach.logbook.file import Full
from coach.logbook.logbook import Logbook
from coach.logbook.run import Run
from coach.rehearsal.moving import SENSOR_S
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal, fly, prepare
from coach.rehearsal.run import run
from coach.rehearsal.steering import SOFT, Stage
from coach.sound.clip import Clip
from coach.sound.outputs import open_player
from coach.sound.player import Player
from coach.taps.pressing import ALONE, Press
from tests.hand.simulated import Simulated, Spoiled, more_bank, planned
from tests.sound.hurried import Hurried

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)
DAY = Day(loops=1)


@pytest.fixture(scope="module")
def ready() -> Rehearsal:
    return prepare(fly(QUICK_TURN, KITE, DAY), DAY, support="start")


class Student:
    """Keys, and a phone that a hand flies by what it hears; batches are a tenth of a second late."""

    joined, trouble = True, ""
    grip: Grip = EASY
    doubt_s = 0.01

    def __init__(self, hand: Simulated, presses: tuple[tuple[float, str], ...] = ()) -> None:
        self.timekeeper = Hurried()
        self.stages: list[Stage] = []
        self.player: Player | None = None
        self.silent_from_s = np.inf
        self._hand = hand
        self._begun_s = self._read_s = self.timekeeper.now()
        self._presses = [Press(key, self._begun_s + at_s) for at_s, key in presses]
        self._on_the_way: list[tuple[float, Readings]] = []

    def presses(self) -> list[Press]:
        due = [one for one in self._presses if one.at <= self.timekeeper.now()]
        self._presses = self._presses[len(due) :]
        return due

    def readings(self) -> Iterator[Readings]:
        assert self.player is not None
        now_s = self.timekeeper.now()
        at_s = np.arange(self._read_s, now_s, 0.02)
        if len(at_s) and now_s - self._begun_s < self.silent_from_s:
            heard_s = [self.sheet.flight_s(self.player.position_s(at)) for at in at_s.tolist()]
            readings = Readings(at_s + SENSOR_S, self._hand.up(heard_s, self.grip))
            self._on_the_way.append((now_s + 0.1, readings))
            self._read_s = float(at_s[-1]) + 0.02
        while self._on_the_way and self._on_the_way[0][0] <= now_s:
            yield self._on_the_way.pop(0)[1]

    def move(self, stage: Stage) -> None:
        if self.stages[-1:] != [stage]:
            self.stages.append(stage)

    sheet: Any = None


def flown(
    ready: Rehearsal,
    *presses: tuple[float, str],
    errors: tuple[Spoiled, ...] = (),
    show: Callable[[Progress], None] = lambda _: None,
    tone_deg: float = 0.0,
    logbook: Logbook | None = None,
    silent_from_s: float = np.inf,
) -> tuple[Done, Student, tuple[Run, ...]]:
    """How it ended and what is kept; keys are pressed so long after the sound began."""
    hand = Simulated(planned(ready.flight, 10.0), seed=2, errors=errors, delay_s=0.0)
    student = Student(hand, presses)
    student.sheet, student.silent_from_s = ready.sheet, silent_from_s
    book = logbook or Logbook()
    student.player = open_player(ready.soundtrack, "silent", student.timekeeper)
    student.player.start()
    done = run(
        ready, student, book, show,
        player=student.player, hand=student, tone_deg=tone_deg, timekeeper=student.timekeeper,
    )  # fmt: skip
    return done, student, tuple(reversed(book.runs()))


def is_flown_by_plan(ready: Rehearsal, kept: Run, from_s: float, to_s: float) -> None:
    motion = kept.motion
    table = ready.flight.at(motion.time_s)
    for flew, column in ((motion.pitch_deg, "pitch_deg"), (motion.bank_deg, "bank_deg")):
        assert np.abs(np.array(flew) - table[column]).mean() < 2.0
    assert motion.time_s[0] == pytest.approx(from_s, abs=0.1)
    assert motion.time_s[-1] == pytest.approx(to_s, abs=0.3)
    assert motion.doubt_s == pytest.approx(0.03)


def test_what_a_hand_flies_is_kept_from_the_first_moment_to_the_last(
    home: Path, ready: Rehearsal
) -> None:
    done, student, (kept,) = flown(ready)
    assert done.finished and kept.ended == "finished" and not kept.taps
    is_flown_by_plan(ready, kept, -1.0, ready.flight.length_s)
    assert student.stages == ["level", "flying", "over"]
    assert kept.score is not None
    assert kept.score.flown == kept.score.on_time == len(kept.moments)


def test_a_pause_leaves_no_trace_in_what_was_flown(home: Path, ready: Rehearsal) -> None:
    start_s = ready.sheet.flight_start_s
    _, student, (kept,) = flown(ready, (start_s + 3.0, "p"), (start_s + 9.0, "p"))
    is_flown_by_plan(ready, kept, -1.0, ready.flight.length_s)
    assert np.diff(kept.motion.time_s).max() < 0.2
    assert student.stages == ["level", "flying", "paused", "flying", "over"]


def test_each_attempt_has_the_motion_of_its_own(home: Path, ready: Rehearsal) -> None:
    begins_s = ready.sheet.flight_start_s
    again_s = begins_s + ready.flight.moments[0].time_s + 1.0
    _, _, (first, second) = flown(ready, (again_s, "r"))
    assert (first.ended, second.ended) == ("stopped", "finished")
    is_flown_by_plan(ready, first, -1.0, again_s - begins_s)
    is_flown_by_plan(ready, second, -1.0, ready.flight.length_s)


def test_a_false_start_leaves_nothing_of_a_hand_either(home: Path, ready: Rehearsal) -> None:
    done, _, runs = flown(ready, (ready.sheet.flight_start_s + 0.4, "q"))
    assert not runs and not done.numbers
    with Logbook() as log:
        assert log._rows("SELECT count(*) FROM motions")[0][0] == 0


def test_a_phone_that_is_gone_in_the_middle_leaves_what_it_gave_and_the_run_goes_on(
    home: Path, ready: Rehearsal
) -> None:
    states: list[str] = []

    def show(progress: Progress) -> None:
        if progress.hand and states[-1:] != [progress.hand.state]:
            states.append(progress.hand.state)

    done, _, (kept,) = flown(ready, silent_from_s=ready.sheet.flight_start_s + 4.0, show=show)
    assert done.finished and kept.ended == "finished"
    is_flown_by_plan(ready, kept, -1.0, 4.0)
    assert states == ["lost", "joined", "level", "flying", "lost"]


def test_a_phone_of_which_nothing_is_read_is_held_against_nobody(
    home: Path, ready: Rehearsal
) -> None:
    _, _, (kept,) = flown(ready, silent_from_s=-np.inf)
    assert not kept.motion and kept.unseen
    found = debrief(kept)
    assert {verdict.word for verdict in found.verdicts} == {"not perceived"}
    assert found.next.startswith("Make yourself seen first")
    assert "the hand not seen" in found.perceived


def test_a_tap_counts_though_nothing_is_read_of_the_phone(home: Path, ready: Rehearsal) -> None:
    first = ready.flight.moments[0]
    _, _, (kept,) = flown(
        ready, (ready.sheet.flight_start_s + first.time_s, ALONE), silent_from_s=-np.inf
    )
    words = [verdict.word for verdict in debrief(kept).verdicts]
    assert words == ["on time", *["not perceived"] * (len(words) - 1)]


def test_motion_is_on_disk_within_two_seconds(home: Path, ready: Rehearsal) -> None:
    late: list[float] = []

    def show(progress: Progress) -> None:
        flown_s = ready.sheet.flight_s(progress.position_s)
        with Logbook() as other:
            (kept,) = other.runs() or (None,)
        reaches = kept.motion.time_s[-1] if kept and kept.motion else 0.0
        if 0.0 < flown_s < ready.flight.length_s:
            late.append(flown_s - reaches)

    flown(ready, show=show)
    assert max(late) < 2.0


def test_where_the_disk_is_full_at_the_end_the_motion_is_written_when_there_is_room(
    home: Path, ready: Rehearsal, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = 0
    write = Logbook.end

    def end(self: Logbook, *values: Any) -> None:
        nonlocal tries
        tries += 1
        if tries <= 2:
            raise Full("The disk is full.")
        write(self, *values)

    monkeypatch.setattr(Logbook, "end", end)
    done, _, (kept,) = flown(ready)
    assert done.finished and tries > 2
    is_flown_by_plan(ready, kept, -1.0, ready.flight.length_s)


def test_a_soft_tone_is_heard_while_the_hand_is_off_and_nothing_else_is(
    home: Path, ready: Rehearsal, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[tuple[float, float]] = []

    def interject(self: Player, clip: Clip, instead_of: object = None) -> None:
        said.append((self.position_s(), float(np.abs(clip.samples).max())))

    monkeypatch.setattr(Player, "interject", interject)
    middle_s = ready.flight.length_s / 2.0
    wrong = (more_bank(middle_s, 40.0, over_s=10.0),)
    flown(ready, errors=wrong, tone_deg=15.0)
    off_s = [ready.sheet.flight_s(at) for at, _ in said]
    assert off_s and all(abs(at - middle_s) < 6.0 for at in off_s)
    assert all(loud <= 0.2 * SOFT + 1e-6 for _, loud in said)
    for at, _ in said:
        assert not any(cue.start_s - 0.2 < at < cue.end_s + cue.gap_s for cue in ready.sheet.cues)
    said.clear()
    flown(ready, errors=wrong)
    flown(ready, tone_deg=15.0)
    assert not said
