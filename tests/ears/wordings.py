"""The ways that were collected from pilots (`tests.ears.pilots`), with any other numbers in them."""

from __future__ import annotations

import hashlib
import random
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

from coach.callouts.figures import say_heading, say_number, say_turned
from coach.script.asked import ASKED, Asked
from tests.ears.pilots import PILOTS

Style = Callable[[int], str]
T = TypeVar("T")

_WORDS = sorted({word for value in range(100) for word in say_number(value).split()})
_FIGURE = re.compile(rf"\b(?:{'|'.join((*_WORDS, 'niner', 'oh', 'hundred', 'thousand'))})\b")
_TELLS = re.compile(
    r"\b(?:knots|\w*speed|indicat\w+|feet|altitude|passing|heading|bank\w*|wings|right|left|pitch"
    r"|nose|level|horizon|up|down|above|below|high|low|plus|minus|positive|negative)\b"
)
_SIDED = re.compile(r"\b(?:up|down|above|below|high|low|plus|minus|positive|negative)\b")
_CORRECTS = re.compile(r"(?<=\w) (correction|no|sorry|i mean|make that|i say again) ")
_HESITATES = re.compile(r"(?<=\w) (uh|um) ")
_JOINED = (", ", " and ", ", uh, ", " and ")


def _digits(value: int) -> str:
    return " ".join(say_number(int(digit)) for digit in str(value))


def _hundreds(value: int) -> str:
    """4,500 as "forty five hundred"."""
    hundreds, rest = divmod(value, 100)
    return f"{say_number(hundreds)} hundred" if not rest and hundreds > 10 and hundreds % 10 else ""


def _thousands(value: int) -> str:
    """4,500 as "four thousand five"."""
    thousands, rest = divmod(value, 1000)
    if not thousands or not rest or rest % 100:
        return ""
    return f"{say_number(thousands)} thousand {say_number(rest // 100)}"


def _point(value: int) -> str:
    thousands, rest = divmod(value, 1000)
    if not thousands or not rest or rest % 100:
        return ""
    return f"{say_number(thousands)} point {say_number(rest // 100)}"


def _half(value: int) -> str:
    thousands, rest = divmod(value, 1000)
    return f"{say_number(thousands)} and a half thousand" if thousands and rest == 500 else ""


def _with_and(value: int) -> str:
    hundreds, rest = divmod(value, 100)
    return (
        f"{say_number(hundreds)} hundred and {say_number(rest)}"
        if 0 < hundreds < 10 and rest
        else ""
    )


def _a(style: Style) -> Style:
    return lambda value: (
        f"a {said[4:]}"
        if (said := style(value)).startswith(("one hundred", "one thousand"))
        else ""
    )


def _with(style: Style, one: str, other: str) -> Style:
    return lambda value: (
        re.sub(rf"\b{one}\b", other, said) if re.search(rf"\b{one}\b", said := style(value)) else ""
    )


def _turned(value: int) -> str:
    return say_turned(value) if value > 100 and value % 100 else ""


def _course(value: int) -> str:
    return say_heading(value).spoken


_WINDS = {90: "east", 180: "south", 270: "west", 360: "north"}
STYLES: Mapping[Asked, Sequence[Style]] = {
    "speed": (say_number, _with_and, _a(_with_and), _a(say_number), _turned, _digits,
              lambda value: _with(_digits, "zero", "oh")(value) if value >= 100 else "", _with(_digits, "nine", "niner")),
    "altitude": (say_number, _hundreds, _thousands, _point, _half, _a(say_number),
                 lambda value: _digits(value) if value >= 1000 else ""),
    "heading": (_course, _with(_course, "zero", "oh"), _with(_course, "nine", "niner"), say_turned,
                lambda value: _WINDS.get(value, "")),
    "bank": (say_number, _digits),
    "pitch": (say_number, _digits),
}  # fmt: skip
"""How the figures of each quantity are said; "" where a number cannot be said so."""


_WITHOUT_UNIT = (_thousands, _point)


@dataclass(frozen=True)
class Carrier:
    """What stands around the numbers.

    Attributes:
        words: with the numbers' names in braces, and {other} for one that is corrected.
        signs: of each number: 0 level, else above or below it.
    """

    words: str
    signs: tuple[tuple[Asked, int], ...]

    @property
    def tells(self) -> bool:
        """Whether it tells which number it is."""
        return _TELLS.search(self.words) is not None

    def fits(self, values: Mapping[Asked, float], right: Mapping[Asked, float]) -> bool:
        """Whether these numbers can be said so."""
        return all(
            (
                sign == _sign(values[asked])
                if not sign or asked != "pitch" or _SIDED.search(self.words)
                # Without a word for it the side is the one that is right.
                else _sign(values[asked]) == _sign(right[asked]) != 0
            )
            for asked, sign in self.signs
        )


def _sign(value: float) -> int:
    return (round(value) > 0) - (round(value) < 0)


@cache
def carriers() -> Mapping[tuple[Asked, ...], tuple[Carrier, ...]]:
    """Those of each set of numbers, in the order in which a checkpoint asks for them.

    One for each collected way: what is collected in many ways is said often.
    """
    found: dict[tuple[Asked, ...], list[Carrier]] = {}
    for way in PILOTS:
        if way.name or way.means != way.right or way.words.startswith("due "):
            continue
        words = way.words
        for asked, value in way.means.items():
            said = {style(abs(round(value))) for style in STYLES[asked]} - {""} if value else set()
            for each in sorted(said, key=len, reverse=True):
                if re.search(rf"\b{each}\b", words):
                    words = re.sub(rf"\b{each}\b", f"{{{asked}}}", words)
                    break
        words = re.sub(r"\{other\}(?: \{other\})+", "{other}", _FIGURE.sub("{other}", words))
        signs = {asked: _sign(value) for asked, value in way.means.items()}
        known = all(f"{{{asked}}}" in words for asked, sign in signs.items() if sign)
        if "{other}" not in words or (known and len(signs) == 1):
            found.setdefault((*way.right,), []).append(Carrier(words, (*signs.items(),)))
    return {asks: tuple(some) for asks, some in found.items()}


def as_pilots(
    values: Mapping[Asked, float], right: Mapping[Asked, float], left: bool, dice: random.Random
) -> str:
    """One of the collected ways to say these numbers.

    Args:
        values: what is said.
        right: what is right there.
        left: whether the airplane banks to the left.
        dice: what decides.
    """
    draw = _Draw(f"{dice.random()}")
    together = [
        one for one in carriers().get((*values,), ()) if len(values) > 1 and one.fits(values, right)
    ]
    asks = [*values]
    if together and draw.one(("together", "one by one")) == "together":
        words = draw.one(together).words
    else:
        if draw.one(("as asked", "as asked", "as asked", "turned round")) == "turned round":
            asks.reverse()
        parts = []
        for asked in asks:
            fit = [one for one in carriers()[asked,] if one.fits(values, right)]
            in_place = asked == next(iter(values)) == asks[0]
            part = draw.one([one for one in fit if in_place or one.tells]).words
            other = values[asked] + draw.one(_OFF[asked])
            parts.append(part.replace("{other}", _figure(asked, other, draw, part)))
        words = draw.one(_JOINED).join(parts)
    for asked in asks:
        words = words.replace(f"{{{asked}}}", _figure(asked, values[asked], draw, words))
    if left:
        words = re.sub(r"\bright\b", "left", words)
    return paused(words)


@dataclass(frozen=True)
class _Draw:
    """Draws that change as little as can be where what is drawn from grows or shrinks.

    The list of ways may grow: all that is not said in the new ones stays as it was, and what was
    measured with it stays comparable.
    """

    key: str

    def one(self, options: Sequence[T]) -> T:
        """One of them, those that come twice twice as likely."""
        seen: Counter[T] = Counter()
        ranked = []
        for option in options:
            seen[option] += 1
            mark = hashlib.sha256(f"{self.key}|{option}|{seen[option]}".encode()).hexdigest()
            ranked.append((mark, option))
        return min(ranked, key=lambda pair: pair[0])[1]


_OFF: Mapping[Asked, Sequence[int]] = {
    "speed": (-20, -10, 10), "altitude": (-500, 500), "heading": (-90, 90), "bank": (5,),
    "pitch": (5,),
}  # fmt: skip
"""How far off a number is that is corrected at once."""


def _figure(asked: Asked, value: float, draw: _Draw, around: str) -> str:
    number = abs(round(value))
    if ASKED[asked].is_course:
        number = number % 360 or 360
    said = {style: style(number) for style in STYLES[asked]}
    # "Two thousand seven feet" would be 2,007.
    return draw.one(
        [said[one] for one in said if said[one] and not ("feet" in around and one in _WITHOUT_UNIT)]
    )


def paused(words: str) -> str:
    """Words with the stops that a voice needs: nobody corrects in one breath."""
    return _HESITATES.sub(r", \1, ", _CORRECTS.sub(r", \1, ", words))
