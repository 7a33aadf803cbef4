"""Cue sheets made by hand, for the tests of what is heard."""

from __future__ import annotations

import numpy as np

from coach.callouts.cuesheet import Course, Cue, CueSheet, Phrase

SILENT = dict.fromkeys(("airflow", "engine", "balance", "flutter", "ticks"), 0.0)


def course(
    time_s: tuple[float, ...] = (3.0, 9.0),
    speed_kt: float | tuple[float, ...] = 100.0,
    power: float | tuple[float, ...] = 0.65,
    rudder: float | tuple[float, ...] = 0.0,
    margin_kt: float | tuple[float, ...] = 40.0,
) -> Course:
    """What an airplane does: a value for each time, or one for all of them."""
    time = np.array(time_s, dtype=np.float64)
    values = (speed_kt, power, rudder, margin_kt)
    return Course(time, *(np.zeros_like(time) + np.array(value) for value in values))


def sheet_of(*cues: Cue, length_s: float = 12.0, flown: Course | None = None) -> CueSheet:
    """A sheet whose maneuver begins with the course."""
    flown = flown or course()
    return CueSheet(
        tuple(sorted(cues, key=lambda cue: cue.start_s)),
        dropped=(), flight_start_s=float(flown.time_s[0]), length_s=length_s, pace=1.0,
        support="everything", course=flown,
    )  # fmt: skip


def said(start_s: float, length_s: float = 1.0, spoken: str = "x") -> Cue:
    return Cue(start_s, length_s, phrase=Phrase(spoken.capitalize(), spoken))
