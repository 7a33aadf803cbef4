"""The numbers that a student is asked for: what is right, and how far off is still right."""

from __future__ import annotations

from collections.abc import Mapping

from coach.flight.moment import Moment
from coach.script.asked import Asked

TOLERANCES: Mapping[Asked, float] = {
    "pitch": 3.0,
    "bank": 5.0,
    "speed": 5.0,
    "altitude": 100.0,
    "heading": 10.0,
}
"""Degrees, knots and feet. Bank, altitude and heading: FAA-S-ACS-7, task V.A; pitch and speed (half
of that task's 10 kt, since a number that is known by heart needs no allowance for gusts): common
practice, no source."""


def right(moment: Moment) -> dict[Asked, float]:
    """The numbers asked for at a checkpoint, bank without a side.

    Returns:
        Degrees, knots or feet, in the order in which they are asked for.
    """
    known: dict[Asked, float] = {
        "pitch": moment.pitch_deg,
        "bank": abs(moment.bank_deg),
        "speed": moment.ias_kt,
        "altitude": moment.altitude_ft,
        "heading": moment.heading_deg,
    }
    return {one: known[one] for one in moment.asks}


def off(quantity: Asked, said: float, expected: float) -> float:
    """How far a number is from another one, without a sign; headings the short way round."""
    gap = abs(said - expected)
    return min(gap % 360.0, -gap % 360.0) if quantity == "heading" else gap


def is_right(quantity: Asked, said: float, expected: float) -> bool:
    """Whether a number is within its tolerance, a rounding to whole ones apart."""
    return off(quantity, said, expected) <= TOLERANCES[quantity] + 0.5
