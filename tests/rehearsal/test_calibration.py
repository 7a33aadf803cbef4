"""Tapping along with the coach's tones through a real terminal and the real audio loop."""

from __future__ import annotations

import re
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import correlate

from coach.logbook.logbook import Logbook
from coach.sound.clip import RATE
from coach.sound.tones import tone
from coach.taps.calibration import FIRST, pattern
from tests.rehearsal.test_run import at_terminal
from tests.sound.null_sink import NullSink

COMMAND = (sys.executable, "-m", "coach", "calibrate", "--student", "Ada")


def test_the_offset_found_is_that_of_the_hand_against_what_was_heard(
    null_sink: NullSink, home: Path
) -> None:
    for _ in range(3):  # a busy machine's sound, or its recording, stumbles now and then
        heard, pressed, seen = _tapped_along(null_sink, home)
        if np.abs(np.diff(heard) - np.diff(pattern())).max() < 0.002:
            break
    assert np.diff(heard) == pytest.approx(np.diff(pattern()), abs=0.002)
    errors = [at - due for at, due in zip(pressed, heard[1:], strict=True)]
    truth = float(np.median(errors[FIRST:]))
    with Logbook() as logbook:
        found = [logbook.calibration("Ada", device) for device in _devices(seen)]
    (kept,) = [one for one in found if one is not None]
    print(f"offset {1000 * kept.offset_s:.1f} ms, against the recording {1000 * truth:.1f} ms")
    assert kept.offset_s == pytest.approx(truth, abs=0.015)
    assert kept.low_s <= kept.offset_s <= kept.high_s


def _tapped_along(null_sink: NullSink, home: Path) -> tuple[list[float], list[float], bytes]:
    """When each tone was heard, when each but the first was tapped, and what the screen said."""
    null_sink.start_recording()
    pressed = []
    environment = {**null_sink.environment, "COACH_HOME": str(home)}
    with at_terminal(environment, COMMAND) as terminal:
        terminal.wait_for(b"tone 1 of")
        began = time.perf_counter()
        # The screen says so a little after the tone itself: this hand is late on purpose.
        for at in pattern()[1:]:
            time.sleep(max(0.0, began + at + 0.05 - time.perf_counter()))
            pressed.append(terminal.press(b" "))
        terminal.wait_for(b"taken off every tap of Ada")
        assert terminal.coach.wait(60) == 0
    recording = null_sink.stop_recording()
    shape = tone("checkpoint").samples
    first = int(correlate(recording.samples[: 40 * RATE], shape, "valid")[: 30 * RATE].argmax())
    likeness = correlate(recording.samples, shape, "valid")
    places = [
        first_guess + int(likeness[first_guess : first_guess + RATE // 5].argmax())
        for first_guess in _guesses(likeness, first)
    ]
    return [recording.started_at + place / RATE for place in places], pressed, terminal.seen


def _guesses(likeness: np.ndarray, loudest: int) -> list[int]:
    """A tenth of a second before each tone."""
    first = int((likeness > 0.5 * likeness[loudest]).argmax())
    return [max(0, first + round(at * RATE) - RATE // 10) for at in pattern()]


def _devices(seen: bytes) -> list[str]:
    return [found.decode() for found in re.findall(rb"tap of Ada on ([^\r\n]+)\.\r", seen)]
