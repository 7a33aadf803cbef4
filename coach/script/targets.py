"""Values that only the airplane and the day make a number: ``1.3 stall``, ``entry + 500 ft``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import GetJsonSchemaHandler
from pydantic_core import CoreSchema

from coach.problems import nearest
from coach.script.quantities import EXAMPLE, NUMBER, UNITS, parse, pattern

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


@dataclass(frozen=True)
class Comparable:
    """Marks a text of a script as a target, so that an editor knows what it may be."""

    kinds: tuple[str, ...]

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """A quantity, or a base with a factor before it or an offset behind it."""
        ways, said = [pattern(*self.kinds)], [f"such as '{EXAMPLE[self.kinds[0]]}'"]
        bases = [base for kind in self.kinds for base in BASES[kind]]
        if bases:
            offset = rf"(?:\s*[+-]\s*{pattern(*self.kinds)})?"
            ways.append(rf"(?:{NUMBER}\s+)?(?:{'|'.join(bases)}){offset}")
            said.append(f"{', '.join(dict.fromkeys(bases))}, with a factor or an offset")
        return {
            "type": "string",
            "pattern": rf"^\s*(?:{'|'.join(ways)})\s*$",
            "description": f"{' or '.join(self.kinds).capitalize()}, {'; or '.join(said)}.",
        }


@dataclass(frozen=True)
class Findable:
    """Marks a text of a script that may also be the name of an unknown, for an editor likewise."""

    kind: str

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """A quantity, or a name beginning with a letter."""
        name = "[A-Za-z].*"
        if self.kind == "number":
            return {
                "type": ["number", "string"],
                "pattern": rf"^\s*(?:{NUMBER}|{name})\s*$",
                "description": "Number, or the name of an unknown.",
            }
        words = ", or idle, full, as needed" if self.kind == "share" else ""
        return {
            "type": "string",
            "pattern": rf"^\s*(?:{pattern(self.kind)}|{name})\s*$",
            "description": f"{self.kind.capitalize()}, such as '{EXAMPLE[self.kind]}'{words}, or "
            "the name of an unknown.",
        }


TargetSpeed = Annotated[str, Comparable(("speed",))]
TargetLength = Annotated[str, Comparable(("length",))]
OpenTime = Annotated[str, Findable("time")]
OpenAngle = Annotated[str, Findable("angle")]
OpenLength = Annotated[str, Findable("length")]
OpenShare = Annotated[str, Findable("share")]
OpenNumber = Annotated[str, Findable("number")]
