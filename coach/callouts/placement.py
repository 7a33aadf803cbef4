"""Choosing which phrasing of each callout is said, and when.

Callouts are said in the order they come in, never over each other, with a breath between them; a
question keeps the silence for its answer. Among all choices that respect this, with starts tried
every quarter of a second around where each belongs, one of the greatest value is found:

1. as many safety callouts as possible; among those choices as many checkpoints as possible, then
   commands, then other control inputs, then numbers;
2. among those the best phrasings: the least sum of steps down from each one's best, which is its
   longest one, or asks most;
3. among those the least sum of shifts from where each phrasing belongs.

The search is dynamic programming: it walks along the callouts and keeps, for each moment at which
the voice may be free again, the best way to come there. Of the ways that are free before anything
yet to come can start only the best is kept, so what is kept depends on how crowded the moment is
and not on how much came before: the cost grows linearly with the number of callouts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from coach.callouts.cuesheet import Phrase

BREATH_S = 0.25
"""Silence between two phrases."""

SHIFT_S = 0.25
"""How finely a start is tried."""

KINDS = ("safety", "checkpoint", "command", "control", "number")
"""From the most important to the least."""

_OUTWEIGHS = 10**9
"""How many of the next lesser thing outweigh one thing: more than a rehearsal ever has."""

_SAID: dict[str, int] = {
    kind: _OUTWEIGHS ** (3 + rank) for rank, kind in enumerate(reversed(KINDS))
}
_STEP = _OUTWEIGHS**2


@dataclass(frozen=True)
class Question:
    """What is asked before a phrasing, which is its answer.

    Attributes:
        phrase: what is asked.
        start_s: the latest start that leaves the student time to answer.
        length_s: how long the voice takes.
        earlier_s: how much sooner it may start.
    """

    phrase: Phrase
    start_s: float
    length_s: float
    earlier_s: float = 0.0


@dataclass(frozen=True)
class Phrasing:
    """One way to say a callout.

    Attributes:
        phrase: what is said.
        start_s: where it belongs.
        length_s: how long the voice takes.
        earlier_s: how much sooner than where it belongs it may start; 0 behind a question.
        later_s: how much later; 0 behind a question.
        gap_s: silence that it needs after it.
        down: how many steps it is worse than the callout's best phrasing.
        question: what is asked before it; nothing is said from there to its end but the student's
            answer.
    """

    phrase: Phrase
    start_s: float
    length_s: float
    earlier_s: float = 0.0
    later_s: float = 0.0
    gap_s: float = 0.0
    down: int = 0
    question: Question | None = None

    @property
    def earliest_s(self) -> float:
        """Before this nothing of it is heard."""
        first = self.question or self
        return first.start_s - first.earlier_s


@dataclass(frozen=True)
class Wanted:
    """A callout that asks for its place: one of `KINDS`, and its phrasings from long to short."""

    kind: str
    phrasings: tuple[Phrasing, ...]

    @property
    def earliest_s(self) -> float:
        """Before this it cannot start."""
        return min(one.earliest_s for one in self.phrasings)

    def choices(self) -> Iterator[Placed]:
        """Every phrasing at every start that is tried."""
        for number, one in enumerate(self.phrasings):
            earlier_s = (one.question or one).earlier_s
            steps = range(-int(earlier_s / SHIFT_S), int(one.later_s / SHIFT_S) + 1)
            yield from (Placed(self, number, step) for step in steps)


@dataclass(frozen=True)
class Placed:
    """A callout at its place: the number of its phrasing, and steps of `SHIFT_S` from its start.

    Where it answers a question the steps are that one's: the answer stays where it belongs.
    """

    wanted: Wanted
    number: int
    step: int

    @property
    def phrasing(self) -> Phrasing:
        """How it is said."""
        return self.wanted.phrasings[self.number]

    @property
    def start_s(self) -> float:
        """When the first sound of its phrasing is heard."""
        return self.phrasing.start_s + (0.0 if self.phrasing.question else SHIFT_S * self.step)

    @property
    def begins_s(self) -> float:
        """When the first sound of it is heard, a question's if it has one."""
        question = self.phrasing.question
        return question.start_s + SHIFT_S * self.step if question else self.start_s

    @property
    def free_s(self) -> float:
        """When the next one may start."""
        return self.start_s + self.phrasing.length_s + max(BREATH_S, self.phrasing.gap_s)

    @property
    def value(self) -> int:
        """What it is worth; of two sums the greater is better by the first thing they differ in."""
        return _SAID[self.wanted.kind] - self.phrasing.down * _STEP - abs(self.step)


@dataclass(frozen=True)
class _Way:
    """The best choice so far after which the voice is free from ``free_s`` on."""

    free_s: float
    value: int
    placed: tuple[int, Placed] | None
    before: _Way | None


def place(wanted: Sequence[Wanted], earliest_s: float) -> list[Placed | None]:
    """The best placement of callouts.

    Args:
        wanted: callouts in the order in which they must be said.
        earliest_s: nothing starts before this.

    Returns:
        Each callout's place, or None where it is not said; no other choice has a greater value.
    """
    # The earliest start of any callout after this one.
    backwards = accumulate((one.earliest_s for one in reversed(wanted)), min, initial=float("inf"))
    needed = list(backwards)[-2::-1]
    ways = [_Way(earliest_s, 0, None, None)]
    for index, (callout, needed_s) in enumerate(zip(wanted, needed, strict=True)):
        grown = list(ways)
        frees = [way.free_s for way in ways]
        for choice in callout.choices():
            # Ways are kept so that a later one is always of greater value.
            possible = bisect_right(frees, choice.begins_s)
            if possible:
                before = ways[possible - 1]
                value = before.value + choice.value
                grown.append(_Way(choice.free_s, value, (index, choice), before))
        ways = _worth_keeping(grown, needed_s)
    chosen: list[Placed | None] = [None] * len(wanted)
    way: _Way | None = ways[-1]
    while way is not None:
        if way.placed is not None:
            index, choice = way.placed
            chosen[index] = choice
        way = way.before
    return chosen


def _worth_keeping(ways: list[_Way], needed_s: float) -> list[_Way]:
    """Ways for which no other is as good and free as early, by when they are free.

    Args:
        ways: in any order.
        needed_s: being free earlier than this is of no use.
    """
    kept: list[_Way] = []
    for way in sorted(ways, key=lambda one: (one.free_s, -one.value)):
        if kept and way.value <= kept[-1].value:
            continue
        if way.free_s <= needed_s:
            kept.clear()
        kept.append(way)
    return kept
