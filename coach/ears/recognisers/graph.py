"""A grammar as a graph: a sound on each of its arcs, and every sentence a way from end to end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from coach.ears.recognisers.jsgf import VOID, Piece, piece
from coach.ears.recognisers.sounds import of_word

Numbers = npt.NDArray[np.intp]
Costs = npt.NDArray[np.float32]

START = 0
NOTHING = -1
"""In place of a sound or a word, on an arc that has none."""

_BY_USE = 0.5
"""What an unusual wording costs beside sounds that differ, for each neper of its weight."""

_FIRST = np.zeros(1, np.intp)

_Ends = tuple[tuple[int, float], ...]
"""Where a piece may end, and what it costs to have gone that way; no more than one of a node."""


@dataclass(frozen=True, eq=False)
class Level:
    """Arcs that begin where all earlier levels' arcs end, either all with a sound or all without.

    Attributes:
        arcs: their numbers.
        first: of each node that they lead to, where in `arcs` the first one of them is.
        back: `arcs` in the order of the nodes that they come from.
        first_back: of each of those, where in `back` its first one is.
    """

    spoken: bool
    arcs: Numbers
    first: Numbers
    back: Numbers
    first_back: Numbers


class Graph:
    """Every sentence of a grammar.

    Nodes are numbered so that every arc leads to a higher one. A node is reached by one arc with a
    sound, or by any number of arcs without.

    Args:
        shapes: the sentences, in terms of the rules.
        rules: right-hand sides in JSGF, without loops, by their names.

    Attributes:
        nodes: how many there are; the way begins at `START`.
        end: where every sentence ends.
        words: every word in it.
        start, to, sound, word: of each arc, from which node to which one it leads, its sound, and
            the number of the word that begins with it; sorted by the node it leads to.
        cost: of each arc, what its being unusual costs; 0 where it is usual.
        levels: all arcs in the order in which they can be gone over.
        into: where in the arcs those that lead to each node begin, and, last, their count.
    """

    def __init__(self, shapes: Sequence[str], rules: Mapping[str, str]) -> None:
        self._rules = rules
        self._known: dict[tuple[int | str, int], _Ends] = {}
        self._arcs: list[tuple[int, int, int, int, float]] = []
        self._numbers: dict[str, int] = {}
        self.nodes = 1
        ends = [end for shape in shapes for end in self._through(piece(shape), START)]
        self.end = self._joined(ends)
        self.words = tuple(self._numbers)
        arcs = sorted(self._arcs, key=lambda arc: arc[1])
        whole = np.array([arc[:4] for arc in arcs], np.intp).reshape(-1, 4)
        self.start, self.to, self.sound, self.word = np.ascontiguousarray(whole.T)
        self.cost: Costs = np.array([arc[4] for arc in arcs], np.float32)
        self.levels = self._levelled()
        self.into = np.searchsorted(self.to, np.arange(self.nodes + 1)).tolist()

    def _levelled(self) -> list[Level]:
        depth = [0] * self.nodes
        for start, end in zip(self.start.tolist(), self.to.tolist(), strict=True):
            depth[end] = max(depth[end], depth[start] + 1)
        spoken = self.sound != NOTHING
        key = 2 * np.array(depth, np.intp)[self.to] + spoken
        order = np.argsort(key, kind="stable")
        found = []
        for arcs in np.split(order, np.flatnonzero(np.diff(key[order])) + 1):
            if len(arcs):
                back = arcs[np.argsort(self.start[arcs], kind="stable")]
                first, first_back = _firsts(self.to[arcs]), _firsts(self.start[back])
                found.append(Level(bool(spoken[arcs[0]]), arcs, first, back, first_back))
        return found

    def _through(self, one: Piece, at: int) -> _Ends:
        """Where a piece that begins at a node may end; nowhere, where it cannot be said.

        What begins at one node with the same word or rule goes on from one node, so that the graph
        stays small.
        """
        key = (one.name or id(one), at)
        if key not in self._known:
            self._known[key] = self._drawn(one, at)
        return self._known[key]

    def _drawn(self, one: Piece, at: int) -> _Ends:
        if one.kind == "word":
            return ((self._word(one.name, at), 0.0),)
        if one.kind == "rule":
            void = one.name == VOID
            return () if void else self._through(piece(self._rules[one.name[1:-1]]), at)
        if one.kind == "row":
            ends: _Ends = ((at, 0.0),)
            for part in one.parts:
                ends = self._through(part, self._joined(ends)) if ends else ()
            return ends
        cheapest: dict[int, float] = {}
        for part, unusual in zip(one.parts, one.unusual, strict=True):
            for end, cost in self._through(part, at):
                whole = cost + _BY_USE * unusual
                cheapest[end] = min(whole, cheapest.get(end, whole))
        return tuple(cheapest.items())

    def _word(self, word: str, at: int) -> int:
        number = self._numbers.setdefault(word, len(self._numbers))
        for sound in of_word(word) or (NOTHING,):
            self._arcs.append((at, self._node(), sound, number, 0.0))
            at, number = self.nodes - 1, NOTHING
        return at

    def _joined(self, ends: Iterable[tuple[int, float]]) -> int:
        """A node to which each of these leads on."""
        found = [*ends]
        if len(found) == 1 and not found[0][1]:
            return found[0][0]
        joined = self._node()
        self._arcs += [(end, joined, NOTHING, NOTHING, cost) for end, cost in found]
        return joined

    def _node(self) -> int:
        self.nodes += 1
        return self.nodes - 1


def _firsts(row: Numbers) -> Numbers:
    """Where in a sorted row each value stands first."""
    return np.concatenate([_FIRST, np.flatnonzero(row[1:] != row[:-1]) + 1])
