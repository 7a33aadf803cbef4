"""What Whisper is told that it has just heard, so that it expects a place's own words."""

from __future__ import annotations

from collections.abc import Iterator

from coach.callouts.figures import say_heading, say_number
from coach.ears.grammar import Grammar
from coach.script.asked import ASKED, Asked

_NAMES = 10
"""So many checkpoints: a prompt takes time."""

_BEYOND = (1.15, 1.4)
_ROUND_THE_COMPASS = (0.63, 0.18)


def prompt(grammar: Grammar) -> str:
    """A place's names, and its quantities, with numbers that nobody will say there.

    A number in a prompt is heard more readily than others, so none that may be meant is in it.
    """
    usual: dict[str, str] = {}
    for words, name in grammar.names.items():
        usual.setdefault(name, words)
    names = ", ".join([*usual.values()][:_NAMES]).capitalize()
    told = [f"{names}."] if names else []
    for quantity in grammar.figures:
        number = ASKED[quantity]
        one, other = _unsaid(quantity, grammar)
        called = next(iter(number.before)).capitalize()
        unit = number.unit or next(iter(number.after), "")
        told += [f"{called} {one}.", f"{other.capitalize()} {unit}".strip() + "."]
    return " ".join(told)


def _unsaid(quantity: Asked, grammar: Grammar) -> Iterator[str]:
    """Two numbers in words that are none of a grammar's."""
    number, known = ASKED[quantity], {*grammar.figures[quantity].values()}
    for share in _ROUND_THE_COMPASS if number.is_course else _BEYOND:
        value = number.step * round(share * max(known, default=100.0) / number.step)
        while value in known:
            value += number.step
        yield say_heading(value).spoken if number.is_course else say_number(value)
