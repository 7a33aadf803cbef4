"""Promises of a rehearsal that is heard while the rest of it is still being made."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from coach.callouts.said import COUNT_FROM
from coach.callouts.support import Support
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.logbook.logbook import Logbook
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Preparation, fly, prepare
from coach.rehearsal.run import WAITING, run
from coach.sound import voices
from coach.sound.voices import Narrator
from coach.taps.pressing import Press
from tests.sound.hurried import Hurried

KITE, QUICK_TURN = (
    str(Path(__file__).parents[1] / name) for name in ("kite.yaml", "quick-turn.yaml")
)

# A speaker that beeps, and has to do something before it speaks what comes after the opening.
BEEPING = """
import os, time, numpy, soundfile
from pathlib import Path
from coach.sound.speakers import Voice

asked = 0

def voices():
    return [Voice("beeper", "b", __name__, "beeps", "en", "none", True)]

def speak(texts, folder, voice, words_per_minute):
    global asked
    asked += 1
    if asked > 1:
        {before_the_rest}
    for number, text in enumerate(texts):
        beep = numpy.sin(numpy.arange(2000 + 100 * len(text)) / 9)
        soundfile.write(folder / str(number), beep, 24000, format="WAV")
        yield number
"""


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a student whose coach never spoke before."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))


@pytest.fixture
def flight() -> Flight:
    return fly(QUICK_TURN, KITE, Day())


@pytest.fixture
def speaker(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[[str], None]:
    def made(before_the_rest: str) -> None:
        name = f"first_{tmp_path.name.replace('-', '_')}"
        source = BEEPING.format(before_the_rest=before_the_rest)
        (tmp_path / f"{name}.py").write_text(source)
        monkeypatch.syspath_prepend(tmp_path)
        monkeypatch.setattr(voices, "SPEAKERS", (name,))

    return made


class Fingers:
    """Presses the space bar at moments of the soundtrack, and any key when told to."""

    def __init__(self, timekeeper: Hurried) -> None:
        self.timekeeper = timekeeper
        self.keys: list[str] = []

    def presses(self) -> list[Press]:
        keys, self.keys = self.keys, []
        return [Press(key, self.timekeeper.now()) for key in keys]


@pytest.mark.parametrize("support", ["everything", "asking"])
def test_a_rehearsal_begun_with_its_opening_sounds_as_one_made_at_once(
    flight: Flight, speaker: Callable[[str], None], support: Support
) -> None:
    speaker("pass")
    day = Day()
    with Preparation() as preparation:
        opening = preparation.opening(flight, day, support=support)
        assert opening.rest is not None
        joined = opening.rest.result()
    # As on a machine that never spoke: nothing comes from what was kept.
    at_once = prepare(flight, day, support=support)
    length = joined.soundtrack.length
    assert at_once.soundtrack.length == length
    whole = at_once.soundtrack.frames(0, length)
    np.testing.assert_array_equal(joined.soundtrack.frames(0, length), whole)
    first = opening.soundtrack
    np.testing.assert_array_equal(first.frames(0, first.length), whole[: first.length])
    assert joined.sheet.cues == at_once.sheet.cues
    assert opening.sheet.cues == at_once.sheet.cues[: len(opening.sheet.cues)]
    assert opening.sheet.flight_start_s == at_once.sheet.flight_start_s
    assert joined.replies.keys() == at_once.replies.keys()


def test_what_is_heard_first_does_not_wait_for_the_rest_and_the_run_waits_before_its_count_in(
    flight: Flight, speaker: Callable[[str], None], tmp_path: Path
) -> None:
    go = tmp_path / "go"
    speaker(f"while not Path({str(go)!r}).exists(): time.sleep(0.01)")
    stood: list[float] = []
    hand = Fingers(Hurried())

    def show(progress: Progress) -> None:
        if progress.message == WAITING:
            stood.append(progress.position_s)
            hand.keys = ["space"]  # which is no tap of anything
        if len(stood) == 300:
            go.touch()
            assert opening.rest is not None
            opening.rest.result()

    with Preparation() as preparation, Logbook(tmp_path / "logbook.sqlite3") as logbook:
        opening = preparation.opening(flight, Day())
        assert opening.rest is not None and not opening.rest.done()
        done = run(opening, hand, logbook, show, output="silent", timekeeper=hand.timekeeper)
        kept = logbook.run(*done.numbers)
    assert done.finished and not done.note
    assert len(stood) == 300 and set(stood) == {opening.soundtrack.length_s}
    last_word_s = opening.sheet.cues[-1].end_s
    assert last_word_s < stood[0] < opening.sheet.flight_start_s - COUNT_FROM
    assert kept.ended == "finished" and kept.reached_s == pytest.approx(flight.length_s)
    assert not kept.taps


def _stopped_while_it_waits(
    flight: Flight, speaker: Callable[[str], None], tmp_path: Path, keys: list[str]
) -> Done:
    speaker("time.sleep(600)")
    hand = Fingers(Hurried())

    def show(progress: Progress) -> None:
        if progress.message == WAITING and keys:
            hand.keys = [keys.pop(0)]

    with Preparation() as preparation, Logbook(tmp_path / "logbook.sqlite3") as logbook:
        opening = preparation.opening(flight, Day())
        return run(opening, hand, logbook, show, output="silent", timekeeper=hand.timekeeper)


@pytest.mark.parametrize("key", ["q", "ctrl-c", "closed"])
def test_a_run_that_is_left_while_the_rest_is_spoken_leaves_nothing_behind(
    flight: Flight, speaker: Callable[[str], None], tmp_path: Path, key: str
) -> None:
    before = set(threading.enumerate())
    done = _stopped_while_it_waits(flight, speaker, tmp_path, ["r", key])
    assert not done.finished and not done.numbers and not done.note
    # Of what was there before, anything may have ended meanwhile.
    assert set(threading.enumerate()) <= before


def test_a_voice_that_fails_on_the_rest_keeps_what_was_heard_and_it_is_said(
    flight: Flight, speaker: Callable[[str], None]
) -> None:
    speaker("raise RuntimeError('I am hoarse')")
    with Preparation() as preparation:
        opening = preparation.opening(flight, Day())
        assert opening.note is None and opening.rest is not None
        whole = opening.rest.result()
    assert whole.note is not None
    assert whole.note.endswith(
        "could not be spoken: the usual voice said RuntimeError: I am hoarse."
    )
    first = opening.soundtrack
    np.testing.assert_array_equal(
        whole.soundtrack.frames(0, first.length), first.frames(0, first.length)
    )


def test_what_could_not_be_spoken_once_stays_so(
    speaker: Callable[[str], None], tmp_path: Path
) -> None:
    speaker("pass")
    with Narrator() as narrator:
        assert set(narrator.speak(["bank"]).clips) == {"bank"}
        assert set(narrator.speak(["bank", "pitch"]).clips) == {"bank", "pitch"}
    speaker("raise RuntimeError")
    with Narrator() as narrator:
        narrator.speak(["power"])
        lost = narrator.speak(["flaps"])
        assert narrator.speak(["flaps", "bank"]).clips.keys() == {"power", "bank"}
    assert lost.note is not None and lost.note.startswith("1 of 2 phrases could not be spoken")
