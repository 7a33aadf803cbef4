"""What a maneuver is judged by: the limits of every checkride that asks for it.

They stand in the maneuver's script and nowhere else: the brief, the debrief and the page show
these rows, and what a student is to learn for a checkride follows from them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from coach.script.legs import Word
from coach.script.quantities import NUMBER, UNITS
from coach.script.reading import Sheet
from coach.words import listed

Checkride = Literal["private", "commercial", "instrument"]

CHECKRIDES: tuple[Checkride, ...] = get_args(Checkride)
"""Those that some maneuver of the library is asked at."""

_BAND = re.compile(rf"(?:\+({NUMBER}) -({NUMBER})|({NUMBER})) ([a-z]+)")
_UNITS = {unit: value for units in UNITS.values() for unit, value in units.items()}


class Limit(Sheet):
    """One tolerance of a standard: ``100 ft`` either way, ``+10 -5 kt``, or in words."""

    what: Word
    within: Word

    @property
    def band(self) -> tuple[float, float] | None:
        """From how far below to how far above is right, in SI units; None where words say it."""
        match = _BAND.fullmatch(self.within)
        if match is None or match[4] not in _UNITS:
            return None
        above, below, either, unit = match.groups()
        size = _UNITS[unit]
        return -float(below or either) * size, float(above or either) * size


class Standard(Sheet):
    """What a maneuver is judged by; without a ``checkride`` by whoever wrote it, at any time."""

    checkride: Checkride | None = None
    source: Annotated[str, Field(min_length=1, max_length=600)]
    limits: Annotated[tuple[Limit, ...], Field(max_length=16)]

    @property
    def title(self) -> str:
        """Whose limits they are, such as ``"private checkride, FAA-S-ACS-6, task V.A"``."""
        return f"{self.checkride} checkride, {self.source}" if self.checkride else self.source

    @property
    def lines(self) -> list[str]:
        """Its limits, each in words."""
        return [f"{limit.what}: {limit.within}" for limit in self.limits]


def asked_at(standards: Iterable[Standard], checkride: Checkride | None) -> tuple[Standard, ...]:
    """A maneuver's standards for a student's checkride; all of them where it asks for it in none.

    Args:
        standards: every one that its script has.
        checkride: the student's; None where that is not known.
    """
    every = tuple(standards)
    own = tuple(one for one in every if one.checkride in (checkride, None))
    return own if checkride and own else every


def not_asked(standards: Iterable[Standard], checkride: Checkride | None) -> str:
    """That a student's checkride does not ask for a maneuver, and which do: a sentence.

    Empty where it does, and where a student learns for none.
    """
    asking = [one.checkride for one in standards]
    if checkride is None or not asking or {checkride, None}.intersection(asking):
        return ""
    others = [one for one in asking if one is not None]
    does = "one does" if len(others) == 1 else "ones do"
    return f"The {checkride} checkride does not ask for this; the {listed(others)} {does}."


def told(standards: Iterable[Standard]) -> list[dict[str, Any]]:
    """Standards as plain values: their titles with what stands in the script."""
    return [{"title": one.title, **one.model_dump()} for one in standards]
