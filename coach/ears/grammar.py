"""What a student may say at one place of a rehearsal, and what those words mean.

Each place has a grammar of its own, because a recogniser that expects little hears much: after a
question only its answers, elsewhere the names of the checkpoints and the numbers of the next one,
and a few orders everywhere. Grammars are written in JSGF (https://www.w3.org/TR/jsgf/, from
memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count, permutations

from coach.callouts.figures import say_number, spoken_out
from coach.ears.figures import likely, plausible
from coach.flight.asked import is_right, right
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked
from coach.taps.order import ORDERS, Order

_ORDER = "coach <order>"

_UNDUE = 0.1
"""How likely a student names another checkpoint than the one that is near, against that one."""

_SIDES: Mapping[str, float] = {"up": 1.0, "above level": 1.0, "down": -1.0, "below level": -1.0}
_TOKEN = re.compile(r"<\w+>|[][()|]|[\w']+")
_WEIGHT = re.compile(r"/[\d.]+/")
_SIGNS = {"[": "(?:", "]": ")?", "(": "(?:", ")": ")", "|": "|"}


@dataclass(frozen=True)
class Meaning:
    """What an utterance means.

    Attributes:
        names: checkpoints that were named, as the script writes them.
        values: the numbers, each in its own unit; bank without a side, pitch above level positive.
        order: what the coach shall do, or None.
    """

    names: tuple[str, ...] = ()
    values: Mapping[Asked, float] = field(default_factory=dict)
    order: Order | None = None


@dataclass(frozen=True)
class Grammar:
    """What may be said at one place; from `answer` or `callout`.

    Attributes:
        shapes: what may be said as a whole, in terms of the rules.
        names: the checkpoints, by every wording of theirs.
        figures: the numbers of each quantity, by every wording of theirs.
        expected: the right numbers.
        due: the checkpoint whose name is expected.
        sides: where a number may be said to be, in terms of `_SIDES`; all of them by default.
    """

    shapes: tuple[str, ...]
    names: Mapping[str, str]
    figures: Mapping[Asked, Mapping[str, float]]
    expected: Mapping[Asked, float]
    due: str = ""
    sides: Mapping[Asked, Sequence[str]] = field(default_factory=dict)

    @cached_property
    def only_right(self) -> Grammar:
        """The part of it that is no mistake: the right numbers, and the name that is due."""
        sides = {
            one: [side for side, sign in _SIDES.items() if is_right(one, sign * abs(value), value)]
            for one, value in self.expected.items()
        }
        figures = {
            one: {
                words: value
                for words, value in known.items()
                if is_right(one, value, abs(self.expected[one]))
            }
            for one, known in self.figures.items()
        }
        names = {words: name for words, name in self.names.items() if name == self.due}
        return replace(self, names=names, figures=figures, sides=sides)

    def is_right(self, said: Meaning) -> bool:
        """Whether every number that was said is right."""
        return all(is_right(one, value, self.expected[one]) for one, value in said.values.items())

    @cached_property
    def jsgf(self) -> str:
        """The grammar as a recogniser takes it."""
        rules = [f"<{name}> = {rule};" for name, rule in self.rules.items()]
        said = f"public <said> = {' | '.join(self.shapes)};"
        return "\n".join(["#JSGF V1.0;", "grammar said;", *rules, said, ""])

    @cached_property
    def request(self) -> Mapping[str, object]:
        """The grammar as `coach.ears.worker` takes it, but for the time from which on it holds."""
        return {
            "grammar": self.jsgf,
            "right": self.only_right.jsgf,
            "words": sorted(self.words),
        }

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word in it."""
        rules = " ".join(_WEIGHT.sub("", rule) for rule in (*self.rules.values(), *self.shapes))
        return frozenset(token for token in _TOKEN.findall(rules) if token[0].isalpha())

    @cached_property
    def rules(self) -> dict[str, str]:
        """Every rule by its name, but the last one."""
        rules = {"order": " | ".join(ORDERS)}
        if self.names:
            rules["name"] = " | ".join(
                f"/{1.0 if name == self.due else _UNDUE}/ {words}"
                for words, name in self.names.items()
            )
        for one, known in self.figures.items():
            level = "".join(f"{words} | " for words, value in known.items() if not value)
            rules[one] = _named(one, level)
            if ASKED[one].sides == "told":
                figure, sides = _bare(one), self.sides.get(one, tuple(_SIDES))
                before = " | ".join(side for side in sides if side in ("up", "down"))
                rules[f"{one}_side"] = f"({before}) {figure} | {figure} ({' | '.join(sides)})"
            rules[f"{one}_figure"] = (
                " | ".join(
                    f"/{likely(one, value, abs(self.expected[one])):.4f}/ {words}"
                    for words, value in known.items()
                    if value
                )
                or "<VOID>"
            )
        return rules

    def parse(self, words: str) -> Meaning | None:
        """What words mean together; None where the grammar has no such sentence.

        "Fifty one" is one number, and not fifty of one thing and one of the next.
        """
        spoken = "".join(f"{word} " for word in words.split())
        found = (re.fullmatch(self._pattern(shape, count()), spoken) for shape in self.shapes)
        meant = [self._meaning(one.groupdict()) for one in found if one is not None]
        return min(meant, key=lambda one: len(one.values), default=None)

    def _pattern(self, rule: str, number: Iterator[int]) -> str:
        """The rule as a regular expression: a space after each word, a group for each rule."""

        def one(token: str) -> str:
            name = token.strip("<>")
            if token in _SIGNS:
                return _SIGNS[token]
            if token == name:
                return f"{name} "
            # A rule may be used twice, and a group has to have a name of its own.
            return f"(?P<{name}_{next(number)}>{self._pattern(self.rules[name], number)})"

        return "".join(map(one, _TOKEN.findall(_WEIGHT.sub("", rule))))

    def _meaning(self, parts: Mapping[str, str | None]) -> Meaning:
        told = {name.rpartition("_")[0]: text.strip() for name, text in parts.items() if text}
        values: dict[Asked, float] = {}
        for quantity, figures in self.figures.items():
            if {quantity, f"{quantity}_figure"} & {*told}:
                values[quantity] = figures.get(told.get(f"{quantity}_figure", ""), 0.0)
                spoken = {*told.get(quantity, "").split()}
                above, below = spoken & {"above", "up"}, spoken & {"below", "down"}
                if below or (self.expected[quantity] < 0.0 and not above):
                    values[quantity] *= -1.0
        names = (self.names[told["name"]],) if "name" in told else ()
        return Meaning(
            names, values, next((one for one in ORDERS if one == told.get("order")), None)
        )


def answer(moments: Sequence[Moment], index: int) -> Grammar:
    """The answers to the question about one checkpoint, and orders.

    Args:
        moments: of the whole flight.
        index: of the checkpoint.
    """
    moment = moments[index]
    shapes = (*_sequences(moment.asks), _ORDER)
    return Grammar(shapes, {}, plausible(moments, index), right(moment))


def callout(moments: Sequence[Moment], index: int) -> Grammar:
    """What a student may call out around one checkpoint: names, its numbers, and orders.

    Args:
        moments: of the whole flight.
        index: of the checkpoint.
    """
    moment = moments[index]
    names = {words: one.name for one in moments for words in name_wordings(one.name)}
    numbers = _sequences(moment.asks)
    shapes = ("<name>", *(f"<name> {row}" for row in numbers), *numbers, _ORDER)
    return Grammar(shapes, names, plausible(moments, index), right(moment), moment.name)


def orders() -> Grammar:
    """What a student may say while the run is paused: an order, and nothing else."""
    return Grammar((_ORDER,), {}, {}, {})


def _sequences(asks: Sequence[Asked]) -> tuple[str, ...]:
    """All of the numbers or the first one, in their order; any other way with each one's word."""
    ordered = [f"(<{one}> | {_bare(one)})" for one in asks]
    rows = [" ".join(ordered), *ordered[:1]]
    lengths = sorted({len(asks), 1}, reverse=True) if asks else ()
    told = (row for length in lengths for row in permutations(asks, length))
    rows += (" ".join(f"<{one}>" for one in row) for row in told if row[0] != asks[0])
    return tuple(dict.fromkeys(filter(None, rows)))


def _named(one: Asked, level: str) -> str:
    """A number with a word that tells which it is."""
    number, figure = ASKED[one], _bare(one)
    called = f"({' | '.join(number.called)})" if number.called[1:] else number.called[0]
    if number.sides == "told":
        return f"{level}{called} ({level}{figure} | <{one}_side>) | <{one}_side>"
    if number.unit_tells:
        return f"{level}{called} {figure} [{number.unit}] | {figure} {number.unit}"
    return f"{level}{called} {figure}"


def _bare(one: Asked) -> str:
    """A number that its place tells: the first one asked for, or all of them in their order."""
    number = ASKED[one]
    unit = f" [{number.unit}]" if number.unit and not number.unit_tells else ""
    return f"<{one}_figure>{unit}"


def name_wordings(name: str) -> tuple[str, ...]:
    """How a checkpoint's name may be said, the coach's own way first."""
    words = re.sub(r"[^\w']+", " ", spoken_out(name)).lower().strip()
    ways = [words]
    if name.isdecimal():
        ways.append(" ".join(say_number(int(digit)) for digit in name))
        ways.append(say_number(int(name)))
    return tuple(dict.fromkeys(ways))
