"""Sentences out of a grammar's rules, each with what it was made to mean."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from hypothesis import strategies as st

from coach.ears.grammar import Grammar, Meaning
from coach.script.asked import ASKED, Asked
from coach.taps.order import ORDERS

_TOKEN = re.compile(r"<\w+>|[][()|]|/[\d.]+/|[\w']+")

Tree = tuple[str, tuple["Tree", ...]]
"""A word, the name of a rule in brackets, or "(", "[" or "" (a row) of what is within."""


@lru_cache(4096)
def tree(rule: str) -> Tree:
    """A rule's right-hand side, taken apart."""
    return _choice(iter([*_TOKEN.findall(rule), ")"]), "(")


def _choice(tokens: Iterator[str], kind: str) -> Tree:
    rows: list[list[Tree]] = [[]]
    for token in tokens:
        if token in ")]":
            break
        if token == "|":
            rows.append([])
        elif token in "([":
            rows[-1].append(_choice(tokens, token))
        elif token[0] != "/":
            rows[-1].append((token, ()))
    return kind, tuple(("", tuple(row)) for row in rows)


@dataclass
class _Speaker:
    """Says one sentence, and keeps what it meant by it."""

    grammar: Grammar
    pick: Callable[[int], int]
    words: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    values: dict[Asked, float] = field(default_factory=dict)
    order: str = ""
    figure: float = 0.0
    side: int = 0

    def say(self, one: Tree) -> None:
        kind, parts = one
        if kind == "":
            for part in parts:
                self.say(part)
        elif kind == "(":
            self.say(parts[self.pick(len(parts))])
        elif kind == "[":
            if chosen := self.pick(len(parts) + 1):
                self.say(parts[chosen - 1])
        elif kind[0] == "<":
            self._rule(kind[1:-1])
        else:
            self.words.append(kind)

    def _rule(self, name: str) -> None:
        begun = len(self.words)
        if name in ASKED:
            self.side = 0
        self.say(tree(self.grammar.rules[name]))
        said = " ".join(self.words[begun:])
        one, _, what = name.rpartition("_")
        if what == "figure":
            known = self.grammar.figures[one]
            half = " ".join(self.words[begun : begun + (len(self.words) - begun) // 2])
            self.figure = known[said] if said in known else known[half]
        elif what == "after":
            self.side = ASKED[one].after[said]
        elif what == "aside":
            self.side = ASKED[one].before[said]
        elif name in ASKED:
            self.values[name] = self._signed(name)
        elif name == "name":
            self.names.append(self.grammar.names[said])
        elif name == "order":
            self.order = said

    def _signed(self, one: Asked) -> float:
        if ASKED[one].sides != "told" or not self.figure:
            return self.figure
        return self.figure * (self.side or (-1 if self.grammar.expected[one] < 0.0 else 1))


@st.composite
def sentences(draw: st.DrawFn, grammar: Grammar) -> tuple[str, Meaning]:
    """One sentence of a grammar, and what it was made to mean."""
    speaker = _Speaker(grammar, lambda count: draw(st.integers(0, count - 1)))
    shape = draw(st.sampled_from(grammar.shapes))
    speaker.say(tree(shape))
    order = next((one for one in ORDERS if one == speaker.order), None)
    return " ".join(speaker.words), Meaning(
        tuple(dict.fromkeys(speaker.names)), speaker.values, order
    )


def has(grammar: Grammar, words: str) -> bool:
    """Whether the rules have a sentence."""
    said = words.split()
    known: dict[tuple[Tree, int], set[int]] = {}

    def ends(one: Tree, at: int) -> set[int]:
        """Where it may end that begins at a word."""
        if (one, at) not in known:
            known[one, at] = {*through(one, at)}
        return known[one, at]

    def through(one: Tree, at: int) -> Iterator[int]:
        kind, parts = one
        if kind == "":
            found = {at}
            for part in parts:
                found = {end for begin in found for end in ends(part, begin)}
            yield from found
        elif kind in "([":
            yield from [at] * (kind == "[")
            yield from (end for part in parts for end in ends(part, at))
        elif kind[0] == "<":
            yield from ends(tree(grammar.rules[kind[1:-1]]), at)
        elif said[at : at + 1] == [kind]:
            yield at + 1

    return any(len(said) in ends(tree(shape), 0) for shape in grammar.shapes)
