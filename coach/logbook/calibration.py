"""How far a student's taps lie from what is heard, on one machine and one device."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Calibration:
    """An offset found by tapping along, with how sure it is.

    Attributes:
        student: a name on this machine, or "".
        device: the output device's name, or "" for the usual one.
        offset_s: what to take off a tap's time; positive where taps are recorded late.
        low_s: the offset is hardly below this.
        high_s: the offset is hardly above this.
        found: when, with its time zone.
    """

    student: str
    device: str
    offset_s: float
    low_s: float
    high_s: float
    found: datetime
