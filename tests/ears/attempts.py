"""What synthetic students say at the checkpoints of real flights, right and wrong."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from coach.callouts.figures import say_heading, say_number, say_turned
from coach.ears.grammar import Grammar, answer, callout
from coach.flight.asked import right
from coach.flight.moment import Moment
from coach.script.asked import Asked
from tests.callouts.flown import flown
from tests.ears.wordings import as_pilots

MANEUVERS = ("lazy-eight", "chandelle", "steep-turn-45", "traffic-pattern", "power-on-stall")

WRONG: dict[Asked, tuple[int, ...]] = {
    "pitch": (-8, -5, 5, 8),
    "bank": (-15, -10, 10, 15, 20),
    "speed": (-15, -10, -8, 8, 10),
    "altitude": (-500, -300, 200, 400),
    "heading": (-90, -30, 20, 90),
}
"""How far off a wrong number is: each beyond its tolerance."""


@dataclass(frozen=True)
class Attempt:
    """One thing that a student says in one place.

    Attributes:
        words: as a voice speaks them.
        grammar: what is listened for there.
        moment: the checkpoint.
        values: what the words mean; empty for a mere name.
        right: which of the values are right.
    """

    words: str
    grammar: Grammar
    moment: Moment
    values: dict[Asked, float]
    right: dict[Asked, bool]
    named: bool = False


def told(quantity: Asked, value: float, dice: random.Random) -> str:
    """One of the usual ways to say a number."""
    number = say_number(abs(round(value)))
    if quantity == "speed":
        return dice.choice((f"{number} knots", f"speed {number}"))
    if quantity == "altitude":
        return dice.choice((f"{number} feet", f"altitude {number}", number))
    if quantity == "bank":
        return dice.choice((f"bank {number}", f"bank {number} degrees")) if value else "wings level"
    if quantity == "heading":
        return dice.choice((f"heading {say_heading(value).spoken}", say_heading(value).spoken))
    if round(value) == 0:
        return dice.choice(("level", "nose level", "pitch level"))
    where = ("above level", "up") if value > 0 else ("below level", "down")
    return dice.choice((f"pitch {number} {where[0]}", f"{number} degrees {where[1]}"))


Teller = Callable[[Mapping[Asked, float], Moment, random.Random], str]
"""How numbers are put into words at a checkpoint."""


def as_coach(values: Mapping[Asked, float], moment: Moment, dice: random.Random) -> str:
    """In the coach's own ways."""
    return ", ".join(told(one, value, dice) for one, value in values.items())


def as_pilot(values: Mapping[Asked, float], moment: Moment, dice: random.Random) -> str:
    """In the ways that were collected from pilots."""
    return as_pilots(values, right(moment), moment.bank_deg < 0.0, dice)


def attempts(kind: str, seed: int, teller: Teller = as_coach) -> Iterator[Attempt]:
    """Of each checkpoint: both numbers right, the first wrong, the second wrong, one alone."""
    dice = random.Random(seed)
    for name in MANEUVERS:
        flight = flown(name)
        seen = set()
        for index, moment in enumerate(flight.moments):
            if moment.name in seen:
                continue
            seen.add(moment.name)
            if kind == "answer":
                grammar = answer(flight.moments, index)
            else:
                grammar = callout(flight.moments, index)
            ways = [(moment.asks, wrong, kind != "answer") for wrong in (None, *moment.asks)]
            for asks, wrong, named in (*ways, (moment.asks[:1], None, False)):
                if not asks:
                    continue
                values = _values(moment, grammar, asks, wrong, dice)
                words = teller(values, moment, dice)
                words = f"{_name(moment)}, {words}" if named else words
                good = {one: one != wrong for one in asks}
                yield Attempt(words, grammar, moment, values, good, named)
            if kind != "answer":
                yield Attempt(_name(moment), grammar, moment, {}, {}, named=True)


def _name(moment: Moment) -> str:
    name = moment.name
    return say_turned(int(name)) if name.isdecimal() else name.replace("-", " ")


def _values(
    moment: Moment,
    grammar: Grammar,
    asks: tuple[Asked, ...],
    wrong: Asked | None,
    dice: random.Random,
) -> dict[Asked, float]:
    values: dict[Asked, float] = {}
    for one in asks:
        value = _spoken_value(one, right(moment)[one])
        if one == wrong:
            expected = [words for words, each in grammar.figures[one].items() if each]
            known = {abs(grammar.figures[one][words]) for words in expected}
            # A bank is believed to be a round one.
            rounded = 5.0 * round(value / 5.0) - value if one == "bank" else 0.0
            steps = [
                step
                for step in (rounded + step for step in WRONG[one])
                if _plausible(one, value + step)
                and (one in ("heading", "altitude") or abs(value + step) in known)
            ]
            value += dice.choice(steps)
            if one == "heading":
                value = value % 360 or 360
        values[one] = value
    return values


def _spoken_value(quantity: Asked, value: float) -> float:
    if quantity == "altitude":
        return max(100, round(value, -2))
    if quantity == "heading":
        return 10 * round(value / 10) % 360 or 360
    return round(value)


def _plausible(quantity: Asked, value: float) -> bool:
    return {
        "pitch": -30 <= value <= 30 and value != 0,
        "bank": 5 <= value <= 60,
        "speed": value > 40,
        "altitude": value > 0,
        "heading": True,
    }[quantity]
