"""What a student may say at one place of a rehearsal, and what those words mean.

Each place has a grammar of its own, because a recogniser that expects little hears much: after a
question only its answers, elsewhere the names of the checkpoints and the numbers of the next one,
and a few orders everywhere. Grammars are written in JSGF (https://www.w3.org/TR/jsgf/, from
memory), without loops; the weight of an alternative counts against 1, that of a usual one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from itertools import combinations

from coach.ears.figures import likely, plausible, wordings
from coach.ears.fillers import FILLERS, MENDED
from coach.ears.names import POINT, name_wordings
from coach.ears.reading import BOTH, Reader
from coach.flight.asked import is_right, right
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked
from coach.taps.order import ORDERS, Order

_ORDER = "coach <order>"

_UNDUE = 0.1
"""How likely a student names another checkpoint than the one that is near, against that one."""

_SWAPPED = 0.3
"""How likely numbers come in another order than the question's."""

_AGAIN = 0.03
_SLIP = 0.03
"""How likely a number is said again, or corrected."""

_COMMON = 0.5
"""What is said more rarely is not in a plain grammar."""

_PAUSE = "[/0.1/ <filler> [/0.1/ <filler>]]"
_UNIT = "[degrees | /0.1/ degree]"

_TOKEN = re.compile(r"<\w+>|[][()|]|[\w']+")
_WEIGHT = re.compile(r"/[\d.]+/")


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
        expected: the right numbers, in the order in which they are asked for.
        due: the checkpoint whose name is expected.
        sides: where a number may be said to be, above level (1) or below (-1); both by default.
        is_plain: it has in its rules what is usual, and no fillers.
    """

    shapes: tuple[str, ...]
    names: Mapping[str, str]
    figures: Mapping[Asked, Mapping[str, float]]
    expected: Mapping[Asked, float]
    due: str = ""
    sides: Mapping[Asked, Sequence[int]] = field(default_factory=dict)
    is_plain: bool = False

    @cached_property
    def plain(self) -> Grammar:
        """The part of it for a recogniser that much leads astray: what is usual, and no fillers."""
        shapes = [shape.replace("<pause> ", "").replace(" <pause>", "") for shape in self.shapes]
        return replace(self, shapes=tuple(shapes), is_plain=True)

    @cached_property
    def only_right(self) -> Grammar:
        """The part of it that is no mistake: the right numbers, and the name that is due."""
        sides = {
            one: [side for side in BOTH if is_right(one, side * abs(value), value)]
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

    @property
    def request(self) -> Mapping[str, object]:
        """The grammar as `coach.ears.worker` takes it, but for the time from which on it holds."""
        return {"grammar": self.to_json()}

    def to_json(self) -> str:
        """All of it in one line of text, for `from_json`."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Grammar:
        """The grammar that a line of `to_json` has."""
        parts = json.loads(text)
        return cls(**{**parts, "shapes": tuple(parts["shapes"])})

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word in it."""
        rules = " ".join(_WEIGHT.sub("", rule) for rule in (*self.rules.values(), *self.shapes))
        return frozenset(token for token in _TOKEN.findall(rules) if token[0].isalpha())

    @cached_property
    def rules(self) -> Mapping[str, str]:
        """Every rule by its name, but the last one."""
        rules = {"order": " | ".join(ORDERS)}
        if self.names:
            rules["name"] = _weighed(
                {words: 1.0 if name == self.due else _UNDUE for words, name in self.names.items()}
            )
            rules["called"] = "<name>" + self._rarely(f"[/0.2/ ({' | '.join(POINT)})]")
        if not self.is_plain:
            rules |= {"filler": _weighed(FILLERS), "pause": _PAUSE, "mended": _weighed(MENDED)}
        for one in self.figures:
            rules |= dict(self._said(one))
        for some in _parts([*self.figures]):
            rules[_told(some)] = " | ".join(self._in_order(some))
        return rules

    def _rarely(self, part: str) -> str:
        """A part of a rule that is left out of a plain one."""
        return "" if self.is_plain else f" {part}"

    def _in_order(self, some: Sequence[Asked]) -> Iterator[str]:
        """Each of several numbers first, and the others after it."""
        for one in some:
            weight = "" if one == some[0] else f"/{_SWAPPED}/ "
            others = _told(other for other in some if other != one)
            then = f" [{self._rarely('<pause>')} <{others}>]" if some[1:] else ""
            yield f"{weight}<{one}_said>{then}"

    def _said(self, one: Asked) -> Iterator[tuple[str, str]]:
        """The rules for one number: what is called what, its figures, and a correction."""
        number, sides = ASKED[one], (0, *self.sides.get(one, BOTH))
        unit = "" if number.unit_tells else f" {_UNIT}"
        figures, usual, again = {}, {}, {}
        for words, value in self.figures[one].items():
            ways = wordings(one, round(value)) if value else {}
            weight = likely(one, value, abs(self.expected[one]))
            if not self.is_plain or ways.get(words, 1.0) >= _COMMON:
                figures[words] = weight * ways.get(words, 1.0)
            if words.replace("niner", "nine") == next(iter(ways), ""):
                usual[words] = weight
                again[f"{words} {words}"] = _AGAIN * weight
        yield f"{one}_figure", _weighed(figures if self.is_plain else {**again, **figures})
        before = [words for words, side in number.before.items() if not side]
        yield f"{one}_before", " | ".join(before)
        filled = self._rarely("[/0.1/ <filler>]")
        twice = self._rarely(f"[/{_AGAIN}/ <{one}_before>]")
        named = f"[<{one}_before>{twice}{filled}]"
        after = ""
        if told := [words for words, side in number.after.items() if side in sides]:
            yield f"{one}_after", " | ".join(told)
            after = f" [<{one}_after>]"
        whole = f"{named} <{one}_figure>{unit}{after}"
        if aside := [words for words, side in number.before.items() if side and side in sides]:
            yield f"{one}_aside", " | ".join(aside)
            whole += f" | <{one}_aside>{filled} <{one}_figure>{unit}"
        yield one, whole
        slip = ""
        if usual and not self.is_plain:
            yield f"{one}_usual", _weighed(usual)
            slip = f"[/{_SLIP}/ {named} <{one}_usual>{unit}{after} <pause> <mended> <pause>] "
        yield f"{one}_said", f"{slip}<{one}>"

    @cached_property
    def _reader(self) -> Reader:
        return Reader(self.names, self.figures, self.expected, self.due, self.sides)

    def parse(self, words: str) -> Meaning | None:
        """What words mean together; None where the grammar has no such sentence.

        Where they may mean several things they mean what is best for the student.
        """
        coach, _, order = words.partition(" ")
        if coach == "coach" and order in ORDERS:
            return Meaning(order=order)
        said = self._reader.read(words)
        if said is None:
            return None
        values = dict(said.values)
        return Meaning(said.names, {one: values[one] for one in self.figures if one in values})


def answer(moments: Sequence[Moment], index: int) -> Grammar:
    """The answers to the question about one checkpoint, and orders.

    Args:
        moments: of the whole flight.
        index: of the checkpoint.
    """
    moment = moments[index]
    shapes = (f"<pause> <{_told(moment.asks)}>",) if moment.asks else ()
    return Grammar((*shapes, _ORDER), {}, plausible(moments, index), right(moment))


def callout(
    moments: Sequence[Moment], index: int, references: Sequence[str | None] = ()
) -> Grammar:
    """What a student may call out around one checkpoint: names, its numbers, and orders.

    Args:
        moments: of the whole flight.
        index: of the checkpoint.
        references: for each of the moments, the reference outside that the nose points at there:
            another name for it in its loop. None of them are named by default.
    """
    moment = moments[index]
    names = {words: one.name for one in moments for words in name_wordings(one.name)}
    for one, seen in zip(moments, references, strict=False):
        if seen and one.loop == moment.loop:
            names = {**dict.fromkeys(name_wordings(seen), one.name), **names}
    shapes = ["<pause> <called>"]
    if moment.asks:
        told = f"<{_told(moment.asks)}>"
        shapes.append(f"<pause> [<called> <pause>] {told} [/{_SWAPPED}/ <pause> <called>]")
    return Grammar((*shapes, _ORDER), names, plausible(moments, index), right(moment), moment.name)


def orders() -> Grammar:
    """What a student may say while the run is paused: an order, and nothing else."""
    return Grammar((_ORDER,), {}, {}, {})


def _told(asks: Iterable[Asked]) -> str:
    """The rule for any of these numbers, in any order."""
    return "_and_".join(asks) + "_told"


def _parts(asks: Sequence[Asked]) -> Iterator[tuple[Asked, ...]]:
    """Everything that may be left to say of these numbers, in their order."""
    for count in range(1, len(asks) + 1):
        yield from combinations(asks, count)


def _weighed(words: Mapping[str, float]) -> str:
    """A choice of words by their weights."""
    return " | ".join(f"/{weight:.4f}/ {one}" for one, weight in words.items())
