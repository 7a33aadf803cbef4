"""The day as somebody gives it, in words and units: what may be chosen, one row each.

The command line, the page and `conditions` read the rows. This module imports nothing that takes
its time, because every command's options are made of it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from coach.script.maneuver import Maneuver


@dataclass(frozen=True)
class Choice:
    """What may be chosen of a day.

    Attributes:
        help: what it is, and in brackets what holds where nothing is given; for the command line.
        label: its name on the page.
        hint: what holds there where nothing is given, and an example.
        kind: of quantity, where it is one.
        unit: of a bare number, and of the limits.
        least: what it must not be below; some limits are the airplane's, see `conditions`.
        most: what it must not be above.
        metavar: what the command line shows for it, where that is not the unit.
        words: the only values, each with its words on the page; "" is nothing given.
        whole: whether it is a whole number.
        up_high: whether it is only for maneuvers up high, where several share a day.
    """

    help: str
    label: str
    hint: str = ""
    kind: str = ""
    unit: str = ""
    least: float = -math.inf
    most: float = math.inf
    metavar: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    whole: bool = False
    up_high: bool = False


def _choice(help: str, label: str, hint: str, **more: Any) -> Any:
    return field(default=None, metadata={"choice": Choice(help, label, hint, **more)})


_SIDES = {"": "as usual", "right": "to the right", "left": "to the left"}


@dataclass(frozen=True)
class Day:
    """What somebody gave; None, or an empty text, leaves it to the script and the airplane.

    A bare number is taken in the unit that pilots use for it: pounds, feet, knots, degrees (of
    heading or Celsius).
    """

    weight: str | None = _choice(
        "Such as 2300lb.  [gross weight]", "Weight", "gross weight, or 2300lb",
        kind="mass", unit="lb",
    )  # fmt: skip
    altitude: str | None = _choice(
        "Entry altitude above sea level.", "Altitude", "as the maneuver asks, or 4500ft",
        kind="length", unit="ft", least=0, most=15000, up_high=True,
    )  # fmt: skip
    ground: str | None = _choice(
        "Elevation of the ground.  [0 ft]", "Ground", "0ft",
        kind="length", unit="ft", least=-1400, most=12000,
    )  # fmt: skip
    altimeter: str | None = _choice(
        "Such as 29.80, or 1009hPa.  [standard]", "Altimeter", "standard, or 29.80",
        unit="inHg", least=27, most=32,
    )  # fmt: skip
    temperature: str | None = _choice(
        "At that altitude.  [standard day]", "Temperature", "standard day, or 30C",
        unit="C", least=-40, most=50,
    )  # fmt: skip
    wind: str | None = _choice(
        "calm, across@15, 240@15, or 24015KT.  [as the script asks]", "Wind",
        "as the maneuver asks, or 240@12, across@10, calm",
        unit="kt", least=0, most=60, metavar="WIND",
    )  # fmt: skip
    heading: str | None = _choice(
        "Entry heading.  [as the wind asks]", "Heading", "as the wind asks, or 150",
        kind="angle", unit="deg", least=0, most=360,
    )  # fmt: skip
    entry_speed: str | None = _choice(
        "Indicated.  [as the script asks]", "Entry speed", "as the maneuver asks, or 95kt",
        kind="speed", unit="kt", most=200,
    )  # fmt: skip
    direction: str | None = _choice(
        "Of the first turn.  [as usual: mostly right]", "First turn", "", words=_SIDES
    )
    loops: int | None = _choice(
        "How many.  [the whole figure]", "Loops", "all",
        unit="loops", least=1, most=16, metavar="N", whole=True,
    )  # fmt: skip


CHOICES: Mapping[str, Choice] = {one.name: one.metadata["choice"] for one in fields(Day)}
"""Every row, by its name."""


_SIGNS = {"c": " °C", "°c": " °C", "deg": "°", "°": "°", "inhg": " inHg", "hpa": " hPa"}
"""How units are written that are given in another way, in small letters."""


def told(name: str, given: str) -> str:
    """What was chosen, by its row's name, with its unit: ``"4,500 ft"``, ``"240 at 15 kt"``."""
    row = CHOICES.get(name)
    if row is None or not row.unit or row.whole:
        return given
    said = re.sub(r"^(\d{3})/?(\d{2,3})(?=\D*$)", r"\1@\2", given) if name == "wind" else given
    match = re.fullmatch(r"(.*\d)\s*([a-z° ]*)", said.strip(), re.IGNORECASE)
    if match is None:  # "calm"
        return said
    number = match[1].replace("@", " at ")
    if row.kind in ("length", "mass"):
        number = re.sub(r"(?<![\d,.])\d{4,}", lambda found: f"{int(found[0]):,}", number)
    unit = (match[2] or row.unit).lower().replace(" ", "")
    return f"{number}{_SIGNS.get(unit, f' {unit}')}"


def shared(day: Day, maneuver: Maneuver) -> Day:
    """A day of several maneuvers as one of them has it: an altitude is for those up high alone."""
    if not maneuver.entry.near_ground:
        return day
    return replace(day, **{name: None for name, choice in CHOICES.items() if choice.up_high})
