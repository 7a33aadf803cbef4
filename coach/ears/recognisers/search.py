"""The sentences of a grammar that sound most like what was heard, exactly.

The distance of `distance.py`, extended from one row of sounds to every way through an acyclic graph
of them: dynamic programming over its nodes (as Myers and Miller 1989 match regular expressions,
from memory). All of what was heard is looked at for many arcs at once. Costs are counted against
those of having heard everything so far for nothing, so that passing over a sound is free.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coach.ears.recognisers.distance import LOST, SWAPPED, Costs
from coach.ears.recognisers.graph import NOTHING, START, Graph, Level, Numbers
from coach.ears.recognisers.sounds import Sounds

_FAR = np.float32(1e6)
_ALIKE = 1e-3
"""Rounding, in sums of costs."""


@dataclass(frozen=True)
class Sentence:
    """One sentence of a grammar, beside what was heard.

    Attributes:
        words: separated by spaces.
        apart: how far apart they are: their `distances`, and what being unusual costs it.
        unusual: that cost.
    """

    words: str
    apart: float
    unusual: float


def near(
    graph: Graph, heard: Sequence[Sounds], *, within: float, most: int
) -> list[list[Sentence]]:
    """Of each word in its place in the grammar, the nearest sentence through it, each one once.

    So every other number is tried where one was said, and every other name, with what fits best
    around it.

    Args:
        graph: the grammar.
        heard: rows of sounds, which are searched for together.
        within: how much further from what was heard than the nearest one a sentence may be.
        most: so many of them.

    Returns:
        For each row sentences, the nearest first; none where the grammar has none at all.
    """
    search = _Search(graph, heard)
    return [search.near(row, within, most) for row in range(len(heard))]


class _Search:
    """The cheapest ways to and from each node, for each length of what was heard."""

    def __init__(self, graph: Graph, heard: Sequence[Sounds]) -> None:
        self._graph = graph
        self._lengths = [len(row) for row in heard]
        longest = max(self._lengths, default=0)
        rows = np.array([(*row, *[0] * (longest - len(row))) for row in heard], np.intp)
        passed = LOST[rows]
        self._passed = [float(LOST[list(row)].sum()) for row in heard]
        # Of each sound that was meant: every sound heard, against having passed it over.
        self._meant: Costs = SWAPPED[:, rows] - passed
        self._lost = LOST[np.maximum(graph.sound, 0)][:, None, None]
        self._cost = graph.cost[:, None, None]
        shape = (graph.nodes, len(heard), longest + 1)
        self.to: Costs = np.full(shape, _FAR, np.float32)
        self.to[START] = 0.0
        for level in graph.levels:
            self._forth(level)
        self.onward: Costs = np.full(shape, _FAR, np.float32)
        for row, length in enumerate(self._lengths):
            self.onward[graph.end, row, : length + 1] = 0.0
        for level in reversed(graph.levels):
            self._back(level)

    def _forth(self, level: Level) -> None:
        arcs, graph = level.arcs, self._graph
        before = self.to[graph.start[arcs]]
        if level.spoken:
            ways = before + self._lost[arcs]
            meant = before[:, :, :-1]
            meant += self._meant[graph.sound[arcs]]
            np.minimum(ways[:, :, 1:], meant, out=ways[:, :, 1:])
            self.to[graph.to[arcs]] = np.minimum.accumulate(ways, axis=2)
        else:
            before += self._cost[arcs]
            nodes = graph.to[arcs[level.first]]
            self.to[nodes] = np.minimum.reduceat(before, level.first, axis=0)

    def _back(self, level: Level) -> None:
        arcs, graph = level.back, self._graph
        after = self.onward[graph.to[arcs]]
        if level.spoken:
            ways = after + self._lost[arcs]
            meant = after[:, :, 1:]
            meant += self._meant[graph.sound[arcs]]
            np.minimum(ways[:, :, :-1], meant, out=ways[:, :, :-1])
            np.minimum.accumulate(ways[:, :, ::-1], axis=2, out=ways[:, :, ::-1])
        else:
            ways = after + self._cost[arcs]
        nodes = graph.start[arcs[level.first_back]]
        cheapest = np.minimum.reduceat(ways, level.first_back, axis=0)
        self.onward[nodes] = np.minimum(self.onward[nodes], cheapest)

    def near(self, row: int, within: float, most: int) -> list[Sentence]:
        graph, length, passed = self._graph, self._lengths[row], self._passed[row]
        to, onward = self.to[:, row, : length + 1], self.onward[:, row, : length + 1]
        meant = self._meant[:, row, :length]
        nearest = float(to[graph.end, -1])
        if nearest >= _FAR / 2:
            return []
        begun = np.flatnonzero(graph.word != NOTHING)
        ways = _over(to, meant, graph, begun) + onward[graph.to[begun]]
        when = ways.argmin(axis=1)
        through = ways[np.arange(len(begun)), when]
        order = np.argsort(through, kind="stable")
        order = order[through[order] <= nearest + within + _ALIKE]
        trail = _Trail(graph, to, onward, meant)
        found: dict[str, Sentence] = {}
        for number in order.tolist():
            if len(found) >= most:
                break
            words, unusual = trail.over(int(begun[number]), int(when[number]))
            text = " ".join(words)
            found.setdefault(text, Sentence(text, float(through[number]) + passed, unusual))
        if not len(order) or through[order[0]] > nearest + _ALIKE:
            # Nothing at all is a sentence too, and the nearest one.
            found = {"": Sentence("", nearest + passed, nearest), **found}
        return [*found.values()]


def _over(to: Costs, meant: Costs, graph: Graph, arcs: Numbers) -> Costs:
    """The cheapest ways that have just gone over these arcs."""
    sound, before = graph.sound[arcs], to[graph.start[arcs]]
    lost = np.where(sound == NOTHING, np.float32(0.0), LOST[sound])
    after: Costs = before + lost[:, None]
    heard = np.where((sound == NOTHING)[:, None], _FAR, before[:, :-1] + meant[sound])
    np.minimum(after[:, 1:], heard, out=after[:, 1:])
    return after


_Way = tuple[tuple[str, ...], float]
"""The words of a way, and what their being unusual costs."""


class _Trail:
    """The words of the cheapest ways; what several have in common is walked once."""

    def __init__(self, graph: Graph, to: Costs, onward: Costs, meant: Costs) -> None:
        self._graph, self._to, self._onward, self._meant = graph, to, onward, meant
        self._out_of = np.argsort(graph.start, kind="stable")
        starts = graph.start[self._out_of]
        self._bounds = np.searchsorted(starts, np.arange(graph.nodes + 1)).tolist()
        self._led: dict[tuple[int, int], _Way] = {}
        self._leads: dict[tuple[int, int], _Way] = {}

    def over(self, arc: int, when: int) -> _Way:
        """The cheapest way over an arc with so much heard behind it."""
        words, cost = self._led_over(arc, when)
        more, further = self._from(int(self._graph.to[arc]), when)
        return words + more, cost + further

    def _led_over(self, arc: int, when: int) -> _Way:
        graph = self._graph
        start, sound, word = int(graph.start[arc]), int(graph.sound[arc]), int(graph.word[arc])
        before = when
        if sound != NOTHING and when:
            meant = self._to[start, when - 1] + self._meant[sound, when - 1]
            before -= bool(meant <= self._to[start, when] + LOST[sound])
        words, cost = self._led_to(start, before)
        said = () if word == NOTHING else (graph.words[word],)
        return words + said, cost + float(graph.cost[arc])

    def _led_to(self, node: int, when: int) -> _Way:
        if node == START:
            return (), 0.0
        key = (node, when)
        if key not in self._led:
            graph = self._graph
            first, last = graph.into[node], graph.into[node + 1]
            spoken = graph.sound[first] != NOTHING
            if spoken and when and self._to[node, when - 1] <= self._to[node, when]:
                self._led[key] = self._led_to(node, when - 1)
            else:
                ways = self._to[graph.start[first:last], when] + graph.cost[first:last]
                self._led[key] = self._led_over(first + int(ways.argmin()), when)
        return self._led[key]

    def _from(self, node: int, when: int) -> _Way:
        graph = self._graph
        if node == graph.end:
            return (), 0.0
        key = (node, when)
        if key not in self._leads:
            ways = []
            # Nearly every node has one arc out of it: nothing to gain from numpy here.
            for arc in self._out_of[self._bounds[node] : self._bounds[node + 1]].tolist():
                sound, after = graph.sound[arc], self._onward[graph.to[arc]]
                if sound == NOTHING:
                    ways.append((after[when] + graph.cost[arc], arc, when))
                    continue
                ways.append((after[when] + LOST[sound], arc, when))
                if when < self._meant.shape[1]:
                    ways.append((after[when + 1] + self._meant[sound, when], arc, when + 1))
            cheapest, arc, then = min(ways)
            if cheapest > self._onward[node, when] + _ALIKE:
                self._leads[key] = self._from(node, when + 1)
            else:
                words, cost = self._from(int(graph.to[arc]), then)
                word = graph.word[arc]
                said = () if word == NOTHING else (graph.words[word],)
                self._leads[key] = said + words, cost + float(graph.cost[arc])
        return self._leads[key]
