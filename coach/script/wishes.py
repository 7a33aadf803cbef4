"""What the planner is given: the numbers that it may choose, and what must come true."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ValidationInfo

from coach.script.legs import Word
from coach.script.quantities import parse
from coach.script.reading import Sheet
from coach.script.targets import Amount, Comparable, Target, Text, parse_target

EXTREMES = ("lowest speed", "greatest altitude", "highest pitch", "lowest pitch")
"""Moments that a script can name without having a checkpoint there."""

WISH_KINDS = {
    "turned": "angle",
    "pitch": "angle",
    "speed": "speed",
    "altitude": "length",
    "ahead": "length",
    "beside": "length",
    "time": "time",
}
"""What a wish can be about, and the kind of quantity it is compared with.

Where over the ground: ``ahead`` of the beginning of the loop along its heading, ``beside`` it to
the first side.
"""


class Unknown(Sheet):
    """A number the planner finds, between two bounds and as near its start as the wishes allow."""

    start: str
    from_: str
    to: str


class _WishedTarget(Comparable):
    """A target of the kind that a wish is about."""

    def _read(self, written: str, info: ValidationInfo) -> Target:
        return parse_target(_wished(info), written)


class _WishedAmount(Text):
    """An amount of the kind that a wish is about."""

    def _read(self, written: str, info: ValidationInfo) -> Amount:
        return Amount(parse(_wished(info), written), written)


WishedAmount = Annotated[Amount, _WishedAmount()]


def _wished(info: ValidationInfo) -> str:
    return WISH_KINDS[info.data.get("what", "turned")]


class Wish(Sheet):
    """What must come true: a value to meet (``is``), or a range to stay in (``between``).

    ``since`` counts it from what it was at another moment.
    """

    what: Literal["turned", "pitch", "speed", "altitude", "ahead", "beside", "time"]
    at: Word
    since: Word | None = None
    is_: Annotated[Target, _WishedTarget(tuple(dict.fromkeys(WISH_KINDS.values())))] | None = None
    within: WishedAmount | None = None
    between: tuple[WishedAmount, WishedAmount] | None = None
