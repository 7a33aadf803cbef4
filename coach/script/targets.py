"""Values that only the airplane and the day make a number: ``1.3 stall``, ``entry + 500 ft``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from coach.problems import nearest
from coach.script.quantities import UNITS, parse

BASES = {
    "speed": ("entry", "stall", "maneuvering", "cruise", "best glide"),
    "length": ("entry", "start", "ground", "pivotal"),
    "angle": (),
}
"""What a speed, an altitude or an angle can be compared with."""

_TARGET = re.compile(r"\s*(?:(\d+(?:\.\d+)?)\s+)?([a-z][a-z ]*[a-z])\s*(?:([+-])\s*(\d.*))?")


@dataclass(frozen=True)
class Target:
    """A base times a factor, and an offset in SI units; without a base the offset alone."""

    base: str | None
    factor: float
    offset: float


def parse_target(kind: str, written: str) -> Target:
    """A target as written.

    Args:
        kind: ``"speed"``, ``"length"`` or ``"angle"``.
        written: such as ``"1.3 stall"``, ``"stall + 7 kt"``, ``"entry"`` or ``"70 kt"``.

    Raises:
        ValueError: one sentence saying what was found and what is expected.
    """
    match = _TARGET.fullmatch(written)
    if match is None or match[2] in UNITS[kind]:
        return Target(None, 0.0, parse(kind, written))
    factor, base, sign, offset = match.groups()
    if base not in BASES[kind]:
        raise ValueError(f"found '{written}'{nearest(base, BASES[kind])}")
    away = parse(kind, f"{sign}{offset}") if sign else 0.0
    return Target(base, float(factor or 1.0), away)
