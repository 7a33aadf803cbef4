"""Speeds as a script writes them."""

from coach.flight.flight import Flight
from coach.script.quantities import KNOT
from coach.script.targets import parse_target


def speed_kt(flight: Flight, written: str) -> float:
    """The indicated airspeed that a script's words mean in a flight."""
    return flight.speed_of(parse_target("speed", written)) / KNOT
