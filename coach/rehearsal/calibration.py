"""Tapping along with a tone, to find how far a student's taps lie from what they mean."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from coach.callouts.cuesheet import Course, Cue, CueSheet
from coach.problems import Problem
from coach.rehearsal.run import FRAME_S
from coach.sound.bed import LEVELS
from coach.sound.outputs import SILENT, open_player
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.tones import tone
from coach.taps.calibration import Offset, estimate, pattern
from coach.taps.order import by_key
from coach.taps.pressing import ALONE, Hands, Keyboard

_LEAD_IN_S = 3.0
_TAIL_S = 1.5


def calibrate(
    keyboard: Keyboard, show: Callable[[int, int, str], None], *, output: str | None = None
) -> tuple[Offset, str] | None:
    """Play the tones, take the taps and estimate the offset.

    Args:
        keyboard: the keys; space taps, q stops.
        show: called about fifteen times a second with how many tones have sounded, of how many, and
            one sentence on the sound device or "".
        output: the sound device's name, or None for the usual one.

    Returns:
        What it showed, and the device's name; None where the student stopped.

    Raises:
        Problem: the sound device is unknown, or there is none.
    """
    tones = [_LEAD_IN_S + time_s for time_s in pattern()]
    hands, taps = Hands({ALONE: ""}), list[float]()
    with open_player(_soundtrack(tones), output) as player:
        if player.device == SILENT:
            raise Problem("There is no sound to tap along with: coach outputs lists the devices.")
        player.start()
        while not player.finished:
            now = time.perf_counter()
            for press in keyboard.presses():
                if press.key == "closed" or by_key(press.key, paused=False) == "stop":
                    return None
                hands.press(press.key, press.at)
            taps += [player.position_s(press.at) for press in hands.taken(now)]
            sounded = sum(at <= player.position_s() for at in tones)
            show(sounded, len(tones), player.note or "")
            time.sleep(FRAME_S)
        return estimate(tones, sorted(set(taps))), player.device


def _soundtrack(tones_s: list[float]) -> Soundtrack:
    """The tones alone."""
    length = tones_s[-1] + _TAIL_S
    still = np.zeros(2)
    return mix(
        CueSheet(
            cues=tuple(Cue(at, tone("checkpoint").length_s, tone="checkpoint") for at in tones_s),
            dropped=(),
            flight_start_s=0.0,
            length_s=length,
            pace=1.0,
            support="tones",
            course=Course(np.array([0.0, length]), still, still, still, still),
        ),
        {},
        dict.fromkeys(LEVELS, 0.0),
    )
