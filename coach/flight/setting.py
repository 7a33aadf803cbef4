"""A power setting as a handbook gives it: revolutions, manifold pressure with them, or a share."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema

from coach.script.quantities import NUMBER, parse
from coach.script.targets import Text

NAMED = {"full": 1.0, "idle": 0.0}
"""Settings with a name, and their share of the power."""

_BOUNDS = {"rpm": (500.0, 6000.0), "in": (8.0, 50.0), "%": (5.0, 100.0)}
"""What each unit's number may be (light piston engines; common practice, no source)."""

_WRITTEN = rf"(?:({NUMBER})\s*in\s*[,/]?\s*)?({NUMBER})\s*(rpm)|({NUMBER})\s*%|full|idle"
_SETTING = re.compile(rf"\s*(?:{_WRITTEN})\s*", re.ASCII)


@dataclass(frozen=True)
class Setting:
    """One setting; what it does not name is None.

    Attributes:
        share: of rated power.
        inches: manifold pressure, inches of mercury.
        turns: revolutions a second.
    """

    share: float | None = None
    inches: float | None = None
    turns: float | None = None

    @property
    def text(self) -> str:
        """The setting as a caption has it: ``"2,100 rpm"``, ``"20 inches, 2,300 rpm"``."""
        if self.share is not None:
            names = {1.0: "full power", 0.0: "idle"}
            return names.get(self.share, f"{100.0 * self.share:.0f} %")
        pressure = f"{self.inches:g} inches, " if self.inches is not None else ""
        return f"{pressure}{60.0 * (self.turns or 0.0):,.0f} rpm"


class _Settable(Text):
    """Marks a `Setting`, and tells an editor how it is written."""

    def _read(self, written: str, info: ValidationInfo) -> Setting:
        found = _SETTING.fullmatch(written)
        if found is None:
            raise ValueError(
                f"found '{written}', expected a power setting such as '2100 rpm', "
                "'20 in 2300 rpm', '55 %', full or idle"
            )
        inches, rpm, _, percent = found.groups()
        if rpm is None and percent is None:
            return Setting(share=NAMED[written.strip()])
        if percent is not None:
            return Setting(share=parse("share", f"{_within(percent, '%')} %"))
        turns = parse("speed of rotation", f"{_within(rpm, 'rpm')} rpm")
        return Setting(inches=None if inches is None else _within(inches, "in"), turns=turns)

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Revolutions, manifold pressure before them, a share, or a name."""
        pattern = _WRITTEN.replace(f"({NUMBER})", NUMBER).replace("(rpm)", "rpm")
        return {
            "type": "string",
            "pattern": rf"^\s*(?:{pattern})\s*$",
            "description": "Power setting, such as '2100 rpm', '20 in 2300 rpm', '55 %', full, "
            "idle.",
        }


def _within(number: str, unit: str) -> float:
    """The number.

    Raises:
        ValueError: it is beyond its unit's bounds.
    """
    value, (least, most) = float(number.replace(",", "")), _BOUNDS[unit]
    if not least <= value <= most:
        shown = number if len(number) < 20 else f"a number of {len(number)} digits"
        raise ValueError(f"found {shown} {unit}, expected {least:g} {unit} to {most:g} {unit}")
    return value


PowerSetting = Annotated[Setting, _Settable()]
