"""A checkpoint of a flight, in the units a pilot reads and hears."""

from __future__ import annotations

from dataclasses import dataclass

from coach.script.asked import Asked


@dataclass(frozen=True)
class Moment:
    """What is true at one checkpoint.

    Attributes:
        loop: which repetition of the maneuver's legs, from 1.
        name: the checkpoint's name in the script.
        time_s: seconds from the first moment of the maneuver.
        turned_deg: heading change since the start of the loop, positive in the direction of turn.
        heading_deg: 0 to 360, clockwise from north.
        pitch_deg: pitch attitude relative to level flight at entry, nose up positive.
        bank_deg: right positive.
        ias_kt: indicated airspeed.
        altitude_ft: above mean sea level.
        turn_rate_dps: degrees of heading a second, right positive.
        load_factor: lift over weight.
        stall_margin_kt: indicated airspeed above the stall speed at this load factor.
        rudder: qualitative index, right positive; 1 is the most there is.
        elevator: back pressure beyond level flight at entry, as a share of that at the stall.
        elevator_rate: its change in a second.
        aileron: rolling moment coefficient that the ailerons give, right positive.
        roll_dps: degrees of bank a second, right positive.
        asks: the numbers a student should know there, the most telling one first.
    """

    loop: int
    name: str
    time_s: float
    turned_deg: float
    heading_deg: float
    pitch_deg: float
    bank_deg: float
    ias_kt: float
    altitude_ft: float
    turn_rate_dps: float
    load_factor: float
    stall_margin_kt: float
    rudder: float
    elevator: float = 0.0
    elevator_rate: float = 0.0
    aileron: float = 0.0
    roll_dps: float = 0.0
    asks: tuple[Asked, ...] = ()
