"""Quantities as people write them, ``100 kt``, and as the flight room wants them: SI, radians.

One table says which units exist; reading, the error sentences and the JSON Schema all read it.
What goes into the schema is written so that Python, Rust and ECMA-262, with its flag ``u``, read it
alike: digits are listed, and a backslash stands only before a sign that has a meaning.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

KNOT = 1852.0 / 3600.0  # the international knot, exact
FOOT = 0.3048  # exact
POUND = 0.45359237  # exact
HORSEPOWER = 745.6998715822702  # 550 ft lbf/s
DEGREE = math.pi / 180.0
STANDARD_GRAVITY = 9.80665  # m/s2, exact

UNITS: dict[str, dict[str, float]] = {
    "speed": {"kt": KNOT},
    "length": {"ft": FOOT, "in": FOOT / 12.0, "m": 1.0, "nm": 1852.0},
    "area": {"sq ft": FOOT**2, "m2": 1.0},
    "mass": {"lb": POUND, "kg": 1.0},
    "power": {"hp": HORSEPOWER, "kW": 1000.0},
    "angle": {"deg": DEGREE, "°": DEGREE},
    "time": {"s": 1.0, "min": 60.0},
    "share": {"%": 0.01},
    "climb rate": {"fpm": FOOT / 60.0},
    "speed of rotation": {"rpm": 1.0 / 60.0},
}
EXAMPLE = {
    "speed": "100 kt",
    "length": "3500 ft",
    "area": "170 sq ft",
    "mass": "2400 lb",
    "power": "180 hp",
    "angle": "30 deg",
    "time": "10 s",
    "share": "65 %",
    "climb rate": "700 fpm",
    "speed of rotation": "2450 rpm",
}
UNSIGNED = r"(?:(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]*)?|\.[0-9]+)"
NUMBER = f"[+-]?{UNSIGNED}"
BIGGEST = 10_000_000
"""No script's number is as big, whatever its unit: the physics need not fear that it runs over."""

_QUANTITY = re.compile(rf"\s*({NUMBER})\s*(.*?)\s*", re.ASCII)


def parse(kind: str, written: object) -> float:
    """A written quantity in SI units.

    Args:
        kind: a key of `UNITS`.
        written: for example ``"100 kt"``; a bare number is refused because its unit is unknown.

    Returns:
        The value in metres, seconds, kilograms, watts, radians or a share of 1.

    Raises:
        ValueError: one sentence saying what was found and what is expected.
    """
    units = UNITS[kind]
    match = _QUANTITY.fullmatch(str(written))
    if match is None:
        found = repr(written)
    else:
        number, unit = match.groups()
        value = float(number.replace(",", ""))
        if not abs(value) < BIGGEST:
            found = str(written) if len(number) < 20 else f"a number of {len(number)} digits"
            raise ValueError(f"found {found}, expected one below {BIGGEST:,}")
        if unit in units:
            return value * units[unit]
        found = f"{number} with the unit {unit!r}" if unit else f"{number} without a unit"
    allowed = " or ".join(units)
    some = f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
    raise ValueError(f"found {found}, expected {some} in {allowed}, such as '{EXAMPLE[kind]}'")


def pattern(*kinds: str) -> str:
    """A regular expression for a quantity of these kinds, for editors that check as one types."""
    return rf"{NUMBER}\s*{unit_of(*kinds)}"


def unit_of(*kinds: str) -> str:
    """A regular expression for a unit of these kinds; no unit has a sign that needs a backslash."""
    return f"(?:{'|'.join(unit for kind in kinds for unit in UNITS[kind])})"


def like(written: object, value: float) -> str:
    """A value in SI units as text, in the unit that something else is written in.

    Args:
        written: for example ``"24800 lb"``.
        value: such as 3628.7; shown as ``"8000 lb"``, or as it is where ``written`` has no unit.
    """
    match = _QUANTITY.fullmatch(str(written))
    unit = match[2] if match else ""
    for units in UNITS.values():
        if unit in units:
            return f"{value / units[unit]:g} {unit}"
    return f"{value:g}"


@dataclass(frozen=True)
class Quantity:
    """Marks a number in a script as a quantity of one kind, written with its unit.

    ``least`` and ``most`` are what it may be, written like the quantity itself.
    """

    kind: str
    least: str = ""
    most: str = ""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Read the text with its unit, then check the number as usual."""
        return core_schema.no_info_before_validator_function(self._read, handler(source))

    def _read(self, written: object) -> float:
        value = parse(self.kind, written)
        if self.least and not parse(self.kind, self.least) <= value <= parse(self.kind, self.most):
            raise ValueError(f"found {written}, expected {self.least} to {self.most}")
        return value

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """What an editor is told: a number and one of the units."""
        limits = f"{self.least} to {self.most}" if self.least else f"such as '{EXAMPLE[self.kind]}'"
        return {
            "type": "string",
            "pattern": rf"^\s*{pattern(self.kind)}\s*$",
            "description": f"{self.kind.capitalize()}, {limits}.",
        }


Length = Annotated[float, Quantity("length")]
Angle = Annotated[float, Quantity("angle")]
Time = Annotated[float, Quantity("time")]
Share = Annotated[float, Quantity("share")]
