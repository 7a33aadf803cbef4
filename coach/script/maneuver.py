"""A maneuver as its script writes it: legs, checkpoints, what to solve for, what is said.

Angles are radians, speeds metres a second, lengths metres, times seconds once read. A turn to the
first side is positive throughout a script, so one script serves both directions.
"""

from __future__ import annotations

from functools import cached_property
from string import Formatter
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)

from coach.problems import nearest
from coach.script.asked import ASKED, Asked
from coach.script.legs import Leg, Word
from coach.script.quantities import DEGREE, FOOT, Angle, Length, Quantity, Share
from coach.script.reading import Sheet
from coach.script.standards import Standard
from coach.script.targets import OpenShare, TargetLength, TargetSpeed, number, uses
from coach.script.wishes import Unknown, Wish

PATTERN_HEIGHT = 1000 * FOOT
"""What is entered no higher above the ground is flown around something on it (common practice, no
source)."""

_LETTERS = (
    "A-Za-z\u00aa\u00b5\u00ba\u00c0-\u00d6\u00d8-\u00f6\u00f8-\u037d\u037f-\u1fff\u2c00-\u2dff"
    "\u3041-\ud7ff\uf900-\ufdcf"
)
"""Letters with their marks, of every script: blocks as in NameChar of XML 1.0 (fifth edition,
section 2.3; from memory), because regular expressions of Python, Rust and ECMA-262 do not agree on
what a letter is."""

UnknownName = Annotated[str, Field(pattern=r"^[A-Za-z]", max_length=60)]
Paragraph = Annotated[str, Field(min_length=1, max_length=600)]


def _listed(written: Any) -> Any:
    return (written,) if isinstance(written, (str, int, float, dict)) else written


def _or_one(kind: Any, least: int, most: int) -> BeforeValidator:
    """Lets a list of one be written as that one."""
    some = Annotated[tuple[kind, ...], Field(min_length=least, max_length=most)]
    return BeforeValidator(_listed, json_schema_input_type=kind | some)


Texts = Annotated[tuple[Paragraph, ...], Field(max_length=16), _or_one(Paragraph, 0, 16)]

SAYABLE = (
    "title",
    "name",
    "loop",
    "side",
    "other_side",
    *ASKED,
    "turned",
    "rudder",
    "elevator",
    "aileron",
    "next",
    "reference",
    "entry_speed",
    "entry_altitude",
    "maneuvering_speed",
    "best_glide",
    "power",
    "height",
    "groundspeed",
    "climb",
    "load",
    "wind",
    *("rotation", "best_angle", "best_rate", "approach", "short_field"),
    *("flaps_extended", "gear_operating"),
    *("first_flaps", "more_flaps", "landing_flaps", "less_flaps", "flaps_up"),
    *("gear_down", "gear_up"),
    *("climb_power", "descent_power", "pattern_power", "approach_power", "slow_flight_power"),
)
"""The words in braces that a phrasing may hold; from ``rotation`` on they are the airplane's own,
and a part of a sentence that names what it has not got is not said."""


class Anchor(Sheet):
    """A moment: a checkpoint, a share of a leg, or the first time that something is reached.

    ``turned`` counts from the beginning of the loop; ``leg`` beside ``turned``, ``speed`` or
    ``height`` says in which leg to look, with ``roll out`` means where its bank begins to come off
    for good, and beside none of them the ``share`` of it. ``abeam`` is when the airplane, flying
    back, first passes beside where the loop began.
    """

    checkpoint: Word | None = None
    leg: Word | None = None
    share: Annotated[Share, Field(ge=0.0, le=1.0)] = 0.0
    turned: Angle | None = None
    speed: TargetSpeed | None = None
    height: Length | None = None
    roll_out: bool = False
    abeam: bool = False


class Checkpoint(Sheet):
    """A moment worth tapping: the end of a leg, or wherever an anchor lies.

    ``asks`` names the numbers that a student should know there, the most telling one first.
    """

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": ["ends"]}, {"required": ["at"]}]}
    )

    name: Annotated[str, Field(pattern=f"^[{_LETTERS}0-9_][{_LETTERS}0-9_ -]{{0,23}}$")]
    ends: Word | None = None
    at: Anchor | None = None
    asks: Annotated[tuple[Asked, ...], Field(max_length=len(ASKED))] = ("bank", "speed")

    @cached_property
    def anchor(self) -> Anchor:
        """Where it lies: at its anchor, or at the end of its leg."""
        return self.at or Anchor(leg=self.ends, share="100 %")


class Entry(Sheet):
    """How the maneuver is begun.

    Attributes:
        speed: indicated; of several the lowest.
        height: above the ground; ``pivotal`` is where a pylon stays on the wing tip.
        lowest: height above the ground that the maneuver must keep.
        power: share of rated power, its name, or an unknown.
        wind: from where the entry heading has the wind; ``quartering`` is from half behind, on the
            first side.
        usual_wind: its speed where the day gives none.
        path: flight path at the first moment.
        steps: what is done before.
    """

    speed: Annotated[
        tuple[TargetSpeed, ...], Field(min_length=1, max_length=8), _or_one(TargetSpeed, 1, 8)
    ]
    height: TargetLength
    lowest: Length = 1500 * FOOT
    power: OpenShare
    wind: Literal["across", "ahead", "behind", "quartering", "any"] = "any"
    usual_wind: Annotated[float, Quantity("speed", "0 kt", "40 kt")] = 0.0
    path: Annotated[float, Quantity("angle", "-45 deg", "45 deg")] = 0.0
    steps: Texts = ()

    @property
    def near_ground(self) -> bool:
        """Whether it belongs to a pattern, a runway or a point on the ground, and not up high."""
        return self.height.base is not None or self.height.offset <= PATTERN_HEIGHT


class Reference(Sheet):
    """Something outside to look at: the heading change at which the nose passes it."""

    name: Word
    turned: Angle


def _say(phrasing: str) -> str:
    try:
        parts = list(Formatter().parse(phrasing))
    except ValueError as error:
        raise ValueError(f"found '{phrasing}': {error}") from None
    for _, field, *manner in parts:
        if field is not None and field not in SAYABLE:
            raise ValueError(f"found '{{{field}}}' in a phrasing{nearest(field, SAYABLE)}")
        if any(manner):  # Python would fill it with spaces, as many as are asked for
            raise ValueError(f"found more than '{field}' in its braces, expected '{{{field}}}'")
    return phrasing


Phrasing = Annotated[
    str,
    Field(min_length=1, max_length=300),
    AfterValidator(_say),
    WithJsonSchema(
        {
            "type": ["string", "number"],
            "minLength": 1,
            "maxLength": 300,
            "pattern": rf"^(?:[^{{}}]|\{{\{{|\}}\}}|\{{(?:{'|'.join(SAYABLE)})\}})*$",
            "description": "Something said; in braces one of " + ", ".join(SAYABLE) + ".",
        }
    ),
]

Phrasings = Annotated[
    tuple[Phrasing, ...], Field(min_length=1, max_length=8), _or_one(Phrasing, 1, 8)
]


NeverWithout = Annotated[tuple[Phrasing, ...], Field(max_length=4), _or_one(Phrasing, 0, 4)]


class Callout(Sheet):
    """Something said at a moment, in phrasings from long to short.

    Where no ``kind`` is given, it is a checkpoint's if it is said at one, and a control's if not.
    A ``command`` begins with the word that says what to do, and that word is heard at its moment.

    ``lead`` is how long before its moment it is said at least, with the values of that moment; a
    longer phrasing begins earlier, so that it is over in time for the hand. ``loops``
    names the loops of the figure in which it is said, from 1; the loop a flight ends with goes by
    ``last`` alone, because nothing follows it.

    ``never_without`` names words that every phrasing must keep, such as "right rudder": a callout
    that has any is safety's, whatever its kind, and is not what is dropped.
    """

    at: Anchor
    kind: Literal["safety", "checkpoint", "command", "control", "number"] = "control"
    lead: Annotated[float, Quantity("time", "0 s", "60 s")] = 0.0
    loops: Annotated[tuple[int | Literal["last"], ...], Field(max_length=16)] | None = None
    never_without: NeverWithout = ()
    say: Phrasings

    @model_validator(mode="before")
    @classmethod
    def _kind_of_moment(cls, written: Any) -> Any:
        if isinstance(written, dict) and "kind" not in written:
            at = written.get("at")
            if isinstance(at, dict) and "checkpoint" in at:
                return {**written, "kind": "checkpoint"}
        return written

    @property
    def is_safety(self) -> bool:
        """Whether it must be said wherever anything is."""
        return self.kind == "safety" or bool(self.never_without)


class Maneuver(Sheet):
    """Everything that is particular to one maneuver.

    ``usual_side`` is the first side where the day gives none; ``standard`` is what it is judged by,
    at each checkride that asks for it.
    """

    maneuver: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Word
    purpose: Annotated[str, Field(max_length=600)] = ""
    sides: Annotated[tuple[Literal["first", "other"], ...], Field(min_length=1, max_length=16)] = (
        "first",
    )
    usual_side: Literal["right", "left"] = "right"
    entry: Entry
    roll_rate: Annotated[float, Quantity("angle", "1 deg", "90 deg")] = 12 * DEGREE
    references: Annotated[tuple[Reference, ...], Field(max_length=16)] = ()
    unknowns: Annotated[dict[UnknownName, Unknown], Field(default_factory=dict, max_length=12)]
    legs: Annotated[tuple[Leg, ...], Field(min_length=1, max_length=24)]
    checkpoints: Annotated[tuple[Checkpoint, ...], Field(min_length=1, max_length=24)]
    wishes: Annotated[tuple[Wish, ...], Field(max_length=16)] = ()
    introduction: Phrasings = ("{title}.", "Entry {entry_speed}, {entry_altitude}.")
    callouts: Annotated[tuple[Callout, ...], Field(max_length=60)] = ()
    standard: Annotated[tuple[Standard, ...], Field(max_length=8), _or_one(Standard, 0, 8)] = ()
    may_stall: bool = False
    errors: Texts = ()
    notes: Texts = ()
    cautions: Texts = ()

    @cached_property
    def ranges(self) -> dict[str, tuple[float, float, float]]:
        """From where each unknown is sought, where the search starts, and up to where, in SI."""
        kinds = {sought.name: sought.kind for _, sought in uses(self)}
        return {
            name: (
                number(kinds[name], one.from_),
                number(kinds[name], one.start),
                number(kinds[name], one.to),
            )
            for name, one in self.unknowns.items()
        }

    def loop_sides(self, loops: int | None, first: int) -> list[int]:
        """The direction of each loop, right positive.

        Args:
            loops: how many, or None for the whole figure; more than the figure has start it again.
            first: +1 for right, -1 for left.
        """
        count = loops or len(self.sides)
        turn = {"first": first, "other": -first}
        return [turn[self.sides[index % len(self.sides)]] for index in range(count)]
