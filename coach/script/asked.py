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
        before: what a student says before it that tells which number it is, and whether it is above
            level (1), below level (-1), or says nothing of that (0).
        after: the same of what a student says after it.
        zero: ways in which a student says that it is 0.
        told_zero: how the coach says that, where it is not the name and the value.
        step: to what it is rounded where it is said.
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
    before: Mapping[str, int]
    after: Mapping[str, int]
    zero: tuple[str, ...] = ()
    told_zero: str = ""
    step: int = 1
    believed: range | Around
    tolerance: float
    most: float


ASKED: Mapping[str, AskedNumber] = {
    "pitch": AskedNumber(
        field="pitch_deg",
        sides="told",
        sign="°",
        unit="degrees",
        before={
            **dict.fromkeys(("pitch", "nose", "pitch attitude", "attitude"), 0),
            **dict.fromkeys(("up", "nose up", "pitch up", "nose high", "plus", "positive"), 1),
            **dict.fromkeys(("down", "nose down", "pitch down", "nose low", "minus"), -1),
            "pitch plus": 1,
            "pitch minus": -1,
            "negative": -1,
        },
        after={
            **dict.fromkeys(("pitch", "of pitch", "pitch attitude"), 0),
            **dict.fromkeys(("up", "above level", "above", "above the horizon", "nose up"), 1),
            "nose high": 1,
            "pitch up": 1,
            "nose low": -1,
            "pitch down": -1,
            **dict.fromkeys(("down", "below level", "below", "below the horizon", "nose down"), -1),
        },
        zero=("level", "on the horizon", "level nose", "zero"),
        believed=range(1, 31),
        tolerance=3.0,
        most=90.0,
    ),
    "bank": AskedNumber(
        field="bank_deg",
        sides="left out",
        sign="°",
        unit="degrees",
        before=dict.fromkeys(
            (
                *("bank", "bank angle", "angle of bank", "banked", "right", "left"),
                *("bank right", "bank left", "right bank", "left bank"),
            ),
            0,
        ),
        after=dict.fromkeys(
            (
                *("bank", "of bank", "right", "left", "to the right", "to the left"),
                *("right bank", "left bank"),
            ),
            0,
        ),
        zero=("wings level", "wings are level", "level wings", "bank level", "no bank", "zero"),
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
        before=dict.fromkeys(("speed", "airspeed", "indicated airspeed", "indicating"), 0),
        after=dict.fromkeys(
            ("knots", "knots indicated", "indicated", "airspeed", "on the airspeed"), 0
        ),
        believed=Around(slack=20, step=1, where="all along"),
        tolerance=5.0,
        most=400.0,
    ),
    "altitude": AskedNumber(
        field="altitude_ft",
        sign=" ft",
        unit="feet",
        unit_tells=True,
        before={"altitude": 0},
        after={"feet": 0},
        step=10,
        believed=Around(slack=1000, step=100, where="here"),
        tolerance=100.0,
        most=25_000.0,
    ),
    "heading": AskedNumber(
        field="heading_deg",
        is_course=True,
        before=dict.fromkeys(("heading", "course"), 0),
        after={},
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
