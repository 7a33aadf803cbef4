"""In which order maneuvers are begun: each rests on those before it."""

from __future__ import annotations

ORDER = (
    "climb-at-constant-speed",
    "descent-at-constant-speed",
    "standard-rate-turns",
    "slow-flight",
    "power-off-stall",
    "power-on-stall",
    "steep-turn-45",
    "engine-failure",
    "traffic-pattern",
    "go-around",
    "unusual-attitude-nose-high",
    "unusual-attitude-nose-low",
    "emergency-descent",
    "rectangular-course",
    "s-turns",
    "turns-around-a-point",
    "short-field-landing",
    "power-off-180",
    "accelerated-stall",
    "steep-turn-50",
    "steep-spiral",
    "chandelle",
    "lazy-eight",
    "eights-on-pylons",
    "holding-pattern",
)
"""Holding the airplane first, then what keeps a student safe, then patterns over the ground, then
landings to a point and the performance maneuvers (common practice, no source)."""


def place(maneuver: str) -> int:
    """Where a maneuver comes; one of the student's own comes first: it was written to be flown."""
    return ORDER.index(maneuver) if maneuver in ORDER else -1
