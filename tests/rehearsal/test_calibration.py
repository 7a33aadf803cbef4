"""Tapping along with the coach's tones through a real terminal and the real audio loop."""

from __future__ import annotations

import re
import sys

import numpy as np
from scipy.signal import correlate

from coach.logbook.logbook import Logbook
from coach.sound.clip import RATE
from coach.sound.tones import tone
from coach.taps.calibration import FIRST, pattern
from tests.rehearsal.test_run import at_terminal
from tests.sound.null_sink import NullSink, Recording

COMMAND = (sys.executable, "-m", "coach", "calibrate", "--student", "Ada")


def test_the_offset_found_is_that_of_the_hand_against_what_was_heard(null_sink: NullSink) -> None:
    null_sink.start_recording()
    pressed = []
    with at_terminal(null_sink.environment, COMMAND) as terminal:
        for number in range(2, len(pattern()) + 1):
            # The screen says so a little after the tone itself: this hand is late on purpose.
            terminal.wait_for(f"tone {number} of".encode())
            pressed.append(terminal.press(b" "))
        assert terminal.coach.wait(90) == 0
    recording = null_sink.stop_recording()
    heard = _heard(recording)
    uneven = np.abs(np.diff(heard) - np.diff(pattern())).max() > 0.002
    recording.is_steady(stumbled=bool(uneven))  # what is heard when is a rehearsal's own test
    assert b"taken off every tap of Ada" in terminal.seen, terminal.seen[-2000:]
    errors = [[at - due for at in key] for key, due in zip(pressed, heard[1:], strict=True)]
    first, last = (float(one) for one in np.median(errors[FIRST:], axis=0))
    with Logbook() as logbook:
        found = [logbook.calibration("Ada", device) for device in _devices(terminal.seen)]
    (kept,) = [one for one in found if one is not None]
    print(f"offset {1000 * kept.offset_s:.1f} ms, by the recording {1000 * first:.1f} ms or more")
    assert first - 0.015 <= kept.offset_s <= last + 0.015
    assert kept.low_s <= kept.offset_s <= kept.high_s


def _heard(recording: Recording) -> list[float]:
    """When each tone was heard."""
    shape = tone("checkpoint").samples
    first = int(correlate(recording.samples[: 40 * RATE], shape, "valid")[: 30 * RATE].argmax())
    likeness = correlate(recording.samples, shape, "valid")
    places = [
        first_guess + int(likeness[first_guess : first_guess + RATE // 5].argmax())
        for first_guess in _guesses(likeness, first)
    ]
    return [recording.started_at + place / RATE for place in places]


def _guesses(likeness: np.ndarray, loudest: int) -> list[int]:
    """A tenth of a second before each tone."""
    first = int((likeness > 0.5 * likeness[loudest]).argmax())
    return [max(0, first + round(at * RATE) - RATE // 10) for at in pattern()]


def _devices(seen: bytes) -> list[str]:
    return [found.decode() for found in re.findall(rb"tap of Ada on ([^\r\n]+)\.\r", seen)]
