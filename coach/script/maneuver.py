"""A maneuver as its script writes it: legs, checkpoints, what to solve for, what is said.

Angles are radians, speeds metres a second, lengths metres, times seconds once read. A turn to the
first side is positive throughout a script, so one script serves both directions.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from string import Formatter
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from coach.problems import nearest
from coach.script.quantities import Angle, Length, Share, Speed, Time, parse
from coach.script.reading import Place, Sheet

Word = Annotated[str, Field(min_length=1, max_length=60)]
Text = Annotated[str, Field(min_length=1, max_length=600)]

EXTREMES = ("lowest speed", "greatest altitude", "highest pitch", "lowest pitch")
"""Moments that a script can name without having a checkpoint there."""

WISH_KINDS = {"turned": "angle", "pitch": "angle", "speed": "speed", "altitude": "length"}
"""What a wish can be about, and the kind of quantity it is compared with."""

SAYABLE = (
    "title",
    "name",
    "loop",
    "side",
    "other_side",
    "pitch",
    "bank",
    "speed",
    "altitude",
    "heading",
    "turned",
    "rudder",
    "reference",
    "entry_speed",
    "entry_altitude",
    "power",
)
"""The words in braces that a phrasing may hold."""


class Unknown(Sheet):
    """A number the planner finds, between two bounds and as near its start as the wishes allow."""

    start: str
    from_: str
    to: str


MANNERS = {"steady": (1.0, 1.0), "eased": (0.0, 0.0), "prompt": (2.0, 0.0), "late": (0.0, 2.0)}
"""How a change begins and ends: its rate there, as a multiple of the steady rate."""


class Change(Sheet):
    """How bank, pitch attitude or flight path moves over a leg to its end value.

    ``steady`` at a constant rate; ``eased`` slow at both ends; ``prompt`` quick at first, then ever
    slower; ``late`` the reverse. ``rates`` says the same in numbers: how fast the change goes at
    its beginning and at its end, as multiples of the steady rate, each 0 to 3. ``halfway`` is how
    much of it is done after half the leg, where that is not what the rates give by themselves.
    """

    to: str
    how: Literal["steady", "eased", "prompt", "late"] = "eased"
    rates: tuple[str, str] | None = None
    halfway: Annotated[Share, Field(ge=0.1, le=0.9)] | None = None


class Leg(Sheet):
    """One stretch of a loop. What it does not mention stays as it is."""

    name: Word
    time: str
    bank: Change | None = None
    pitch: Change | None = None
    path: Change | None = None


class Checkpoint(Sheet):
    """A moment worth tapping: the end of a leg."""

    name: Annotated[str, Field(pattern=r"^[\w][\w -]{0,23}$")]
    ends: Word


class Wish(Sheet):
    """What must come true: a value to meet (``is``), or a range to stay in (``between``)."""

    what: Literal["turned", "pitch", "speed", "altitude"]
    at: Word
    is_: str | None = None
    within: str | None = None
    between: tuple[str, str] | None = None


class Entry(Sheet):
    """How the maneuver is begun."""

    speed: Annotated[
        tuple[Literal["maneuvering", "cruise", "best glide"], ...], Field(min_length=1)
    ]
    height: Length
    lowest: Length
    power: str
    wind: Literal["across", "ahead", "any"] = "any"
    steps: tuple[Text, ...]


class Reference(Sheet):
    """Something outside to look at: the heading change at which the nose passes it."""

    name: Word
    turned: Angle


class Anchor(Sheet):
    """The moment a callout belongs to."""

    checkpoint: Word | None = None
    leg: Word | None = None
    share: Annotated[Share, Field(ge=0.0, le=1.0)] = 0.0
    turned: Angle | None = None
    speed: Speed | None = None


def _say(phrasing: str) -> str:
    try:
        fields = [field for _, field, _, _ in Formatter().parse(phrasing) if field is not None]
    except ValueError as error:
        raise ValueError(f"found '{phrasing}': {error}") from None
    for field in fields:
        if field not in SAYABLE:
            raise ValueError(f"found '{{{field}}}' in a phrasing{nearest(field, SAYABLE)}")
    return phrasing


Phrasing = Annotated[str, Field(min_length=1, max_length=300), AfterValidator(_say)]


class Callout(Sheet):
    """Something said at a moment, in phrasings from long to short.

    ``lead`` is how long before its moment it is said, with the values of that moment. ``loops``
    names the loops of the figure in which it is said, from 1; the loop a flight ends with goes by
    ``last`` alone, because nothing follows it.
    """

    at: Anchor
    kind: Literal["safety", "checkpoint", "control", "number"]
    lead: Time = 0.0
    loops: tuple[int | Literal["last"], ...] | None = None
    say: Annotated[tuple[Phrasing, ...], Field(min_length=1)]


class Limit(Sheet):
    """One tolerance of a standard."""

    what: Word
    within: Word


class Standard(Sheet):
    """What the maneuver is judged by."""

    source: Text
    limits: tuple[Limit, ...]


class Maneuver(Sheet):
    """Everything that is particular to one maneuver."""

    maneuver: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Word
    purpose: Text
    sides: Annotated[tuple[Literal["first", "other"], ...], Field(min_length=1)]
    entry: Entry
    references: tuple[Reference, ...] = ()
    unknowns: Annotated[dict[str, Unknown], Field(default_factory=dict)]
    legs: Annotated[tuple[Leg, ...], Field(min_length=1)]
    checkpoints: Annotated[tuple[Checkpoint, ...], Field(min_length=1)]
    wishes: tuple[Wish, ...] = ()
    introduction: tuple[Phrasing, ...] = ()
    callouts: tuple[Callout, ...] = ()
    standard: Standard
    errors: tuple[Text, ...] = ()
    notes: tuple[Text, ...] = ()
    cautions: tuple[Text, ...] = ()

    def uses(self) -> Iterator[tuple[str, str, Place]]:
        """Every written value that may be an unknown's name: the value, its kind, its place."""
        yield self.entry.power, "share", ("entry", "power")
        for index, leg in enumerate(self.legs):
            yield leg.time, "time", ("legs", index, "time")
            for key, change in (("bank", leg.bank), ("pitch", leg.pitch), ("path", leg.path)):
                if change is not None:
                    yield change.to, "angle", ("legs", index, key, "to")
                    for end, rate in enumerate(change.rates or ()):
                        yield rate, "number", ("legs", index, key, "rates", end)

    def loop_sides(self, loops: int | None, first: int) -> list[int]:
        """The direction of each loop, right positive.

        Args:
            loops: how many, or None for the whole figure; more than the figure has start it again.
            first: +1 for right, -1 for left.
        """
        count = loops or len(self.sides)
        turn = {"first": first, "other": -first}
        return [turn[self.sides[index % len(self.sides)]] for index in range(count)]


def number(kind: str, written: object) -> float:
    """A written value of a kind, where the kind may also be a bare ``number``.

    Raises:
        ValueError: one sentence.
    """
    if kind != "number":
        return parse(kind, written)
    try:
        return float(str(written))
    except ValueError:
        raise ValueError(f"found {written!r}, expected a number") from None


def split_base(written: str) -> tuple[str | None, str]:
    """A target as its base and the rest.

    ``"entry"`` is ``("entry", "")``, ``"stall + 7 kt"`` is ``("stall", "+7 kt")`` and ``"45 deg"``
    is ``(None, "45 deg")``.
    """
    match = re.fullmatch(r"(entry|stall)\s*(?:([+-])\s*(\S.*))?", written.strip())
    if not match:
        return None, written
    base, sign, rest = match.groups()
    return base, f"{sign}{rest}" if sign else ""
