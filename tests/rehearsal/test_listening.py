"""A student who says the numbers aloud, heard through a real microphone while the coach speaks."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from coach.flight.asked import is_right, right
from coach.flight.day import Day
from coach.logbook.logbook import Logbook
from coach.rehearsal.ready import fly, prepare
from coach.script.catalog import find
from coach.sound.voices import speak
from tests.rehearsal.test_run import DAY, KITE, at_terminal
from tests.sound.null_sink import NullSink, ahead, put_ahead

pytest.importorskip("pocketsphinx", reason="the extra listen is not installed")

PACE = 1.5
"""So fast that the coach asks at two checkpoints only."""

LISTENING = (
    *(sys.executable, "-m", "coach", "rehearse", "lazy-eight", "--airplane", KITE, "--loops", "1"),
    *("--support", "asking", "--pace", str(PACE), "--listen", "--loudspeakers"),
)
ANSWERS = ("pitch sixteen above level, bank fifteen", "three thousand feet, eighty knots")
"""All right but the last number: this airplane is back at 62 kt. They are over more than a second
before the coach speaks again, for machines that are slow to say them."""

THINKS_S = 0.4


def test_answers_said_in_the_room_are_kept_as_numbers_by_voice(
    null_sink: NullSink, home: Path
) -> None:
    # The student's own lazy eight, with one line of its introduction.
    own = home / "scripts" / "maneuvers"
    own.mkdir(parents=True)
    script = find("maneuvers", "lazy-eight").read_text(encoding="utf-8")
    introduction = script[script.index('  - "Entry {') : script.index("# What has to be done")]
    (own / "lazy-eight.yaml").write_text(script.replace(introduction, ""), encoding="utf-8")
    flight = fly("lazy-eight", KITE, DAY)
    ready = prepare(flight, Day(), support="asking", pace=PACE)
    asked = [cue for cue in ready.sheet.cues if cue.gap_s and cue.moment is not None]
    clips = speak(ANSWERS, words_per_minute=185).clips

    # The null sink's monitor is the microphone, so the coach itself is heard in the room as well.
    environment = {**null_sink.environment, "COACH_HOME": str(home)}
    null_sink.start_recording()  # else the sink holds back what it is given first
    with at_terminal(environment, LISTENING, priority=lambda: None) as terminal:
        for cue, words in zip(asked, ANSWERS, strict=True):
            assert cue.phrase is not None
            terminal.wait_for(cue.phrase.text.encode())  # the caption, as the question begins
            put_ahead(terminal.coach.pid)  # its recogniser is another process by now
            time.sleep(cue.length_s + THINKS_S)
            _say(clips[words].samples, null_sink.environment)
        terminal.wait_for(b"licensed instructor", limit_s=90.0)
        assert terminal.coach.wait(60) == 0
    null_sink.stop_recording()
    assert b"does not hear you while it speaks" in terminal.seen

    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and all(tap.how == "voice" for tap in run.taps)
    said = [tap.value for tap in run.taps]
    assert said == [16.0, 15.0, 3000.0, 80.0], terminal.seen[-20_000:]
    true = [pair for cue in asked for pair in right(flight.moments[cue.moment or 0]).items()]
    verdicts = [
        is_right(one, value or 0.0, wanted) for (one, wanted), value in zip(true, said, strict=True)
    ]
    assert verdicts == [True, True, True, False]


def _say(samples: np.ndarray, environment: dict[str, str]) -> None:
    """Say something into the room without waiting for its end."""

    def play() -> None:
        subprocess.run(
            ["pacat", "--playback", "--format=float32le", "--channels=1", "--rate=48000", "--raw"],
            input=samples.astype("<f4").tobytes(), env=environment, check=False, preexec_fn=ahead,
        )  # fmt: skip

    threading.Thread(target=play, daemon=True).start()
