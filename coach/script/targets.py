"""Values that are no number yet where a script is read, and what they are read into.

A target is one that only the airplane and the day make a number: ``1.3 stall``, ``entry + 500 ft``.
A sought one is an unknown of the script that the planner finds.
"""

from __future__ import annotations

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Annotated, Any

from pydantic import BaseModel, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from coach.problems import nearest
from coach.script.contents import Place
from coach.script.quantities import EXAMPLE, UNITS, UNSIGNED, parse, pattern, unit_of

BASES = {
    "speed": (
        "entry",
        "stall",
        "maneuvering",
        "cruise",
        "best glide",
        "rotation",
        "best angle",
        "best rate",
        "approach",
        "short field",
    ),
    "length": ("entry", "start", "ground", "pivotal"),
    "angle": (),
    "time": (),
}
"""What a speed, an altitude or an angle can be compared with."""

_FACTOR = r"[0-9]+(?:\.[0-9]+)?"
_TARGET = re.compile(rf"\s*(?:({_FACTOR})\s+)?([a-z][a-z ]*[a-z])\s*(?:([+-])\s*({UNSIGNED}.*))?")

MOST_TIMES = 10.0
"""The greatest factor of a base: no airplane flies at more than some times its stall."""


@dataclass(frozen=True)
class Target:
    """A base times a factor, and an offset in SI units; without a base the offset alone."""

    base: str | None
    factor: float
    offset: float

    def of(self, base: float) -> float:
        """The value, once the base has one; what that is does not matter where there is none."""
        return self.factor * base + self.offset


def parse_target(kind: str, written: str) -> Target:
    """A target as written.

    Args:
        kind: ``"speed"``, ``"length"`` or ``"angle"``.
        written: such as ``"1.3 stall"``, ``"stall + 7 kt"``, ``"entry"`` or ``"70 kt"``.

    Raises:
        ValueError: one sentence saying what was found and what is expected.
    """
    match = _TARGET.fullmatch(written)
    if match is None or any(match[2] in units for units in UNITS.values()):
        return Target(None, 0.0, parse(kind, written))
    factor, base, sign, offset = match.groups()
    if base not in BASES[kind]:
        raise ValueError(f"found '{written}'{nearest(base, BASES[kind])}")
    away = parse(kind, f"{sign}{offset}") if sign else 0.0
    times = float(factor or 1.0)
    if times > MOST_TIMES:
        raise ValueError(f"found '{written}', expected at most {MOST_TIMES:g} {base}")
    return Target(base, times, away)


AS_NEEDED = math.nan
"""The power that holds a leg's speed, for which there is no number."""

POWERS = {"idle": 0.0, "full": 1.0, "as needed": AS_NEEDED}
"""Powers with a name."""

_LIMITS = {
    "time": (0.1, 1800.0, "0.1 s to 30 min"),
    "angle": (-1.2, 1.2, "no more than 68 deg"),
    "share": (0.0, 1.0, "0 to 100 %"),
}
"""What a leg or an unknown may be: the model and its search hold no further."""


@dataclass(frozen=True)
class Amount:
    """A quantity in SI units, and as it is written, for sentences about it."""

    value: float
    written: str


@dataclass(frozen=True)
class Sought:
    """The name of an unknown in the place of a number of a kind; ``fault``: why it is no number."""

    name: str
    kind: str
    fault: str = field(compare=False)


Open = float | Sought


def number(kind: str, written: str) -> float:
    """A written value of a kind, which may also be an angle ``turned``.

    Raises:
        ValueError: one sentence.
    """
    if kind == "share" and written in POWERS:
        return POWERS[written]
    return parse("angle" if kind == "turned" else kind, written)


def limited(kind: str, value: float, written: str) -> float:
    """The value.

    Raises:
        ValueError: it is beyond what one of this kind may be.
    """
    low, high, words = _LIMITS.get(kind, (-math.inf, math.inf, ""))
    if not (low <= value <= high or math.isnan(value)):
        raise ValueError(f"found {written}, expected {words}")
    return value


def uses(value: object, place: Place = ()) -> Iterable[tuple[Place, Sought]]:
    """Every name of an unknown within a value, and its place there."""
    if isinstance(value, Sought):
        yield place, value
    elif isinstance(value, BaseModel):
        for name, info in type(value).model_fields.items():
            yield from uses(getattr(value, name), (*place, info.alias or name))
    elif isinstance(value, tuple):
        for index, one in enumerate(value):
            yield from uses(one, (*place, index))


def bases(value: object) -> Iterable[str]:
    """Every base that a target within a value has."""
    if isinstance(value, Target):
        yield from () if value.base is None else (value.base,)
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from bases(getattr(value, name))
    elif isinstance(value, tuple):
        for one in value:
            yield from bases(one)


class Text(ABC):
    """Marks a value that stands in the script as a text, and how it is read."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Read what YAML has, a bare number included, as a text and that as a value."""
        return core_schema.with_info_after_validator_function(
            self._read, core_schema.str_schema(coerce_numbers_to_str=True)
        )

    @abstractmethod
    def _read(self, written: str, info: ValidationInfo) -> Any:
        """The value that the text stands for, or a ValueError with one sentence."""


@dataclass(frozen=True)
class Comparable(Text):
    """Marks a `Target` of one of these kinds, and tells an editor what it may be."""

    kinds: tuple[str, ...]

    def _read(self, written: str, info: ValidationInfo) -> Target:
        return parse_target(self.kinds[0], written)

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """A quantity, or a base with a factor before it or an offset behind it."""
        ways, said = [pattern(*self.kinds)], [f"such as '{EXAMPLE[self.kinds[0]]}'"]
        bases = [base for kind in self.kinds for base in BASES[kind]]
        if bases:
            offset = rf"(?:\s*[+-]\s*{UNSIGNED}\s*{unit_of(*self.kinds)})?"
            ways.append(rf"(?:{_FACTOR}\s+)?(?:{'|'.join(dict.fromkeys(bases))}){offset}")
            said.append(f"{', '.join(dict.fromkeys(bases))}, with a factor or an offset")
        return {
            "type": "string",
            "pattern": rf"^\s*(?:{'|'.join(ways)})\s*$",
            "description": f"{' or '.join(self.kinds).capitalize()}, {'; or '.join(said)}.",
        }


@dataclass(frozen=True)
class Findable(Text):
    """Marks a number of a kind that may also be an unknown's name, for an editor likewise."""

    kind: str

    def _read(self, written: str, info: ValidationInfo) -> Open:
        try:
            value = number(self.kind, written)
        except ValueError as error:
            fault = f"{error}, or the name of an unknown"
            if re.match(r"[A-Za-z]", written):  # whether there is such an unknown shows later
                return Sought(written, self.kind, fault)
            raise ValueError(fault) from None
        return limited(self.kind, value, written)

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """A quantity, or a name beginning with a letter."""
        name = "[A-Za-z].*"
        kind = "angle" if self.kind == "turned" else self.kind
        words = f", or {', '.join(POWERS)}" if kind == "share" else ""
        return {
            "type": "string",
            "pattern": rf"^\s*(?:{pattern(kind)}|{name})\s*$",
            "description": f"{kind.capitalize()}, such as '{EXAMPLE[kind]}'{words}, or "
            "the name of an unknown.",
        }


TargetSpeed = Annotated[Target, Comparable(("speed",))]
TargetLength = Annotated[Target, Comparable(("length",))]
OpenTime = Annotated[Open, Findable("time")]
OpenAngle = Annotated[Open, Findable("angle")]
OpenTurn = Annotated[Open, Findable("turned")]
OpenLength = Annotated[Open, Findable("length")]
OpenShare = Annotated[Open, Findable("share")]
