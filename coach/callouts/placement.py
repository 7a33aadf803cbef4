"""Choosing which phrasing of each callout is said, and when.

Phrases never overlap and keep a breath between them. Among all choices that respect this, the best
is found exactly: first as many callouts as possible, the more important kinds first (safety, then
checkpoints, then control inputs, then numbers); then the longest phrasings; then the least shift
from where each belongs. Callouts are said in the order of their moments, so the search is a walk
along them that keeps, for each time the voice could fall silent, the best value so far.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.callouts.cuesheet import Phrase

BREATH_S = 0.25
"""Silence between two phrases."""

SHIFT_S = 0.25
"""How finely a callout's start is tried."""

KINDS = ("safety", "checkpoint", "control", "number")

Value = tuple[float, ...]


@dataclass(frozen=True)
class Wanted:
    """A callout that asks for its place.

    Attributes:
        start_s: where it belongs.
        slack_s: how far its start may move either way; 0 for a word that must land on its moment.
        kind: one of `KINDS`.
        phrasings: from long to short.
        lengths_s: how long the voice takes for each.
        where: what it belongs to, for the sentence that says it was dropped.
    """

    start_s: float
    slack_s: float
    kind: str
    phrasings: tuple[Phrase, ...]
    lengths_s: tuple[float, ...]
    where: str

    @property
    def starts(self) -> list[float]:
        """Every start that is tried, the earliest first."""
        steps = int(self.slack_s / SHIFT_S)
        return [self.start_s + SHIFT_S * step for step in range(-steps, steps + 1)]


@dataclass(frozen=True)
class Placed:
    """A callout at its place, in one of its phrasings."""

    wanted: Wanted
    start_s: float
    phrasing: int

    @property
    def end_s(self) -> float:
        """When its last sound is over."""
        return self.start_s + self.wanted.lengths_s[self.phrasing]

    @property
    def value(self) -> Value:
        """What it is worth; sums of values compare item by item."""
        kinds = tuple(float(kind == self.wanted.kind) for kind in KINDS)
        return (*kinds, -float(self.phrasing), -abs(self.start_s - self.wanted.start_s))


@dataclass(frozen=True)
class _Way:
    """The best choice so far that leaves the voice silent from ``end_s`` on."""

    end_s: float
    value: Value
    last: Placed | None
    before: _Way | None


def place(wanted: Sequence[Wanted], earliest_s: float) -> list[Placed]:
    """The best placement of callouts.

    Args:
        wanted: callouts in the order in which they must be said.
        earliest_s: nothing starts before this.

    Returns:
        The callouts that are said, in order; no other choice has a greater value.
    """
    ways = [_Way(earliest_s - BREATH_S, (0.0,) * (len(KINDS) + 2), None, None)]
    for callout in wanted:
        grown = list(ways)
        for phrasing in range(len(callout.phrasings)):
            for start in callout.starts:
                choice = Placed(callout, start, phrasing)
                free = [way for way in ways if way.end_s + BREATH_S <= start]
                if free:
                    # Ways are kept so that a later end is always a greater value.
                    before = free[-1]
                    value = tuple(a + b for a, b in zip(before.value, choice.value, strict=True))
                    grown.append(_Way(choice.end_s, value, choice, before))
        ways = _undominated(grown)
    chosen: list[Placed] = []
    way: _Way | None = ways[-1]
    while way is not None:
        if way.last is not None:
            chosen.append(way.last)
        way = way.before
    return chosen[::-1]


def _undominated(ways: list[_Way]) -> list[_Way]:
    """Only the ways for which no other ends as early and is worth as much, by their end."""
    kept: list[_Way] = []
    for way in sorted(ways, key=lambda one: (one.end_s, tuple(-part for part in one.value))):
        if not kept or way.value > kept[-1].value:
            kept.append(way)
    return kept
