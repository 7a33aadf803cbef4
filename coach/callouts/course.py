"""What the airplane does along the soundtrack, for the ear."""

from __future__ import annotations

import numpy as np

from coach.callouts.cuesheet import Course
from coach.flight.flight import Flight

RATE_HZ = 20.0
"""Rows a second: the ear does not hear a speed or a rudder change faster."""


def course(flight: Flight, *, start_s: float, length_s: float, pace: float) -> Course:
    """The airplane from the first sound to the last.

    Before the maneuver it keeps the values of the first moment, after it those of the last.

    Args:
        flight: the flight.
        start_s: where on the soundtrack the maneuver begins.
        length_s: the whole soundtrack.
        pace: seconds of flight in a second of the soundtrack.
    """
    time = np.append(np.arange(0.0, length_s, 1.0 / RATE_HZ), length_s)
    flown = np.clip((time - start_s) * pace, 0.0, flight.length_s)
    known = flight.at(flown)
    return Course(
        time_s=time,
        speed_kt=known["ias_kt"],
        power=np.interp(flown, flight.recorded("time"), flight.recorded("power")),
        rudder=known["rudder"],
        margin_kt=known["stall_margin_kt"],
    )
