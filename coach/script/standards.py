"""What a maneuver is judged by: the limits of every checkride that asks for it.

They stand in the maneuver's script and nowhere else: the brief, the debrief and the page show
these rows, and what a student is to learn for a checkride follows from them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from coach.script.asked import Asked
from coach.script.legs import Word
from coach.script.quantities import DEGREE, FOOT, KNOT, NUMBER, UNITS
from coach.script.reading import Sheet
from coach.script.tolerance import Tolerance
from coach.words import listed

Checkride = Literal["private", "commercial", "instrument"]

CHECKRIDES: tuple[Checkride, ...] = get_args(Checkride)
"""Those that some maneuver of the library is asked at."""

_BAND = re.compile(rf"(?:\+({NUMBER}) -({NUMBER})|({NUMBER})) ([a-z]+)")
_DEGREES = re.compile(r"(?<=\d) deg\b")
_UNITS = {unit: value for units in UNITS.values() for unit, value in units.items()}


_KINDS = {"speed": ("speed", KNOT), "altitude": ("length", FOOT)}


class Limit(Sheet):
    """One tolerance of a standard: ``100 ft`` either way, ``+10 -5 kt``, or in words.

    ``of`` is the number that it limits, so that a run is judged by it: how far that number may be
    from what is planned, ``at`` these checkpoints, or everywhere. Without it the limit is for
    people.
    """

    what: Word
    within: Word
    of: Asked | None = None
    at: Annotated[tuple[Word, ...], Field(min_length=1, max_length=24)] | None = None

    @property
    def fault(self) -> str | None:
        """Why a run cannot be judged by it, where it says that it can: half a sentence."""
        if self.of is None:
            return "the key 'of' is missing: which number it limits there" if self.at else None
        units = UNITS[_kind(self.of)[0]]
        if self.band is not None and any(self.band) and self.within.split()[-1] in units:
            return None
        example = f"+10 -5 {next(iter(units))}"
        return f"within: found '{self.within}', expected a limit of {self.of}, such as '{example}'"

    @property
    def band(self) -> tuple[float, float] | None:
        """From how far below to how far above is right, in SI units; None where words say it."""
        match = _BAND.fullmatch(self.within)
        if match is None or match[4] not in _UNITS:
            return None
        above, below, either, unit = match.groups()
        size = _UNITS[unit]
        return -float(below or either) * size, float(above or either) * size

    @property
    def in_short(self) -> str:
        """With its signs: ``"altitude ±100 ft"``, ``"speed +10 −5 kt"``, ``"bank: about 30°"``."""
        within = _DEGREES.sub("°", self.within).replace("above the ground", "AGL")
        if self.band is None:
            return f"{self.what}: {within}"
        within = within.replace("-", "\N{MINUS SIGN}")
        return f"{self.what} {within if within.startswith('+') else f'±{within}'}"

    @property
    def has_figure(self) -> bool:
        """Whether it can be read off an instrument, more or less."""
        return any(map(str.isdigit, self.within))


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


def _kind(of: Asked) -> tuple[str, float]:
    """Of which kind of quantity a number is, and its unit in SI."""
    return _KINDS.get(of, ("angle", DEGREE))


def tolerances(standards: Iterable[Standard], checkride: Checkride | None) -> tuple[Tolerance, ...]:
    """The limits by which a run is judged, in the units of `coach.script.asked`.

    Args:
        standards: every one that the maneuver's script has.
        checkride: the student's; where that is not known, the first standard counts.

    Returns:
        Those of the standard for this checkride, or of whoever wrote it for any; none where the
        checkride does not ask for the maneuver.
    """
    every = tuple(standards)
    own = [one for one in every if one.checkride in (checkride, None)] if checkride else every[:1]
    return tuple(
        Tolerance(limit.of, abs(low) / unit, high / unit, limit.at or (), standard.title)
        for standard in own
        for limit in standard.limits
        if limit.of is not None and limit.band is not None
        for (low, high), (_, unit) in [(limit.band, _kind(limit.of))]
    )


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


def in_figures(standards: Iterable[Standard]) -> list[tuple[str, list[str]]]:
    """The limits that have a figure, else all of them: whose they are, and each in short.

    What several checkrides ask alike is told once, and first.
    """
    whose: dict[str, list[str]] = {}
    for one in standards:
        for limit in [limit for limit in one.limits if limit.has_figure] or one.limits:
            whose.setdefault(limit.in_short, []).append(one.checkride or "standard")
    found: dict[tuple[str, ...], list[str]] = {}
    for told_as, names in whose.items():
        found.setdefault(tuple(names), []).append(told_as)
    several_first = sorted(found.items(), key=lambda item: -len(item[0]))
    return [(listed(names), limits) for names, limits in several_first]


def told(standards: Iterable[Standard]) -> list[dict[str, Any]]:
    """Standards as plain values: their titles with what stands in the script."""
    return [{"title": one.title, **one.model_dump()} for one in standards]
