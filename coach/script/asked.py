"""The numbers that a student can be asked for at a checkpoint: the one table of them.

Another one is a row here: it can be asked for and said in scripts, heard, typed and judged. By
itself, because whoever looks at runs needs it and need not wait for all that reads a script.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal


@dataclass(frozen=True)
class Around:
    """Figures that a student may believe, in steps up to so far from the right ones.

    Attributes:
        slack: how far, in the number's unit.
        step: between two of them.
        where: about what is right at the checkpoint, or all along the flight.
    """

    slack: int
    step: int
    where: Literal["here", "all along"]


@dataclass(frozen=True, kw_only=True)
class AskedNumber:
    """How one number is read, told, understood and judged.

    Attributes:
        field: where `coach.flight.moment.Moment` has it.
        sides: it is above or below level, and that is told (where a student leaves it out, it is
            the side that is right); or it is right or left, and that is left out.
        is_course: it goes round the compass, and is said and written in three figures.
        sign: its unit for the eyes.
        unit: its unit in words; "" for none.
        unit_tells: the unit alone tells which number it is, so it is always said, and the name not.
        called: its name where a student says it, and others.
        zero: ways in which a student says that it is 0.
        told_zero: how the coach says that, where it is not the name and the value.
        step: to what it is rounded where it is said.
        short: 105 may be said "one zero five".
        believed: figures that a student may believe, right or wrong.
        tolerance: so far off is still right, a rounding to whole ones apart.
        most: number keys count in tens, but 15 for 15 degrees is typed as well: what would be more
            than this was typed in full.
    """

    field: str
    sides: Literal["told", "left out", "none"] = "none"
    is_course: bool = False
    sign: str = ""
    unit: str = ""
    unit_tells: bool = False
    called: tuple[str, ...]
    zero: tuple[str, ...] = ()
    told_zero: str = ""
    step: int = 1
    short: bool = False
    believed: range | Around
    tolerance: float
    most: float


ASKED: Mapping[str, AskedNumber] = {
    "pitch": AskedNumber(
        field="pitch_deg",
        sides="told",
        sign="°",
        unit="degrees",
        called=("pitch", "nose"),
        zero=("level", "on the horizon"),
        believed=range(1, 31),
        tolerance=3.0,
        most=90.0,
    ),
    "bank": AskedNumber(
        field="bank_deg",
        sides="left out",
        sign="°",
        unit="degrees",
        called=("bank",),
        zero=("wings level", "bank level"),
        told_zero="wings level",
        believed=range(5, 65, 5),
        tolerance=5.0,
        most=90.0,
    ),
    "speed": AskedNumber(
        field="ias_kt",
        sign=" kt",
        unit="knots",
        unit_tells=True,
        called=("speed",),
        short=True,
        believed=Around(slack=20, step=1, where="all along"),
        tolerance=5.0,
        most=400.0,
    ),
    "altitude": AskedNumber(
        field="altitude_ft",
        sign=" ft",
        unit="feet",
        unit_tells=True,
        called=("altitude",),
        step=10,
        believed=Around(slack=1000, step=100, where="here"),
        tolerance=100.0,
        most=25_000.0,
    ),
    "heading": AskedNumber(
        field="heading_deg",
        is_course=True,
        called=("heading",),
        believed=range(10, 361, 10),
        tolerance=10.0,
        most=360.0,
    ),
}
"""Every one by its name. Tolerances of bank, altitude and heading: FAA-S-ACS-7, task V.A; of pitch
and speed (half of that task's 10 kt, since a number that is known by heart needs no allowance for
gusts): common practice, no source."""

if TYPE_CHECKING:
    Asked = str
else:  # for pydantic, which checks what it reads against the names
    Asked = Literal[tuple(ASKED)]
