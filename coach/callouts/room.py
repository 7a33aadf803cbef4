"""Room to answer: what is said is cut down until the student can say the rest.

Callouts are placed, what came of it is looked at, and what breaks a rule may be said in fewer ways;
then all are placed anew, until no rule is broken:

- What was said in an earlier loop is said in a shorter way, where there is one.
- From the second loop on the coach speaks for at most `MOST_SAID` of a loop. Numbers are shortened
  first, then other control inputs, commands and checkpoints, the longest first; where that is not
  enough numbers and control inputs are left out, but for those of safety.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from coach.callouts.placement import KINDS, Placed, Wanted, place
from coach.callouts.said import Said

MOST_SAID = 0.6
"""Share of a loop, from the second on, in which the coach speaks at most (a choice of ours)."""

_SPARED = ("safety", "checkpoint", "command")
"""What is shortened to leave room, and never left out for it."""

Words = tuple[int, ...]
"""The phrasings that a callout may be said in, by their numbers; none: it is not said."""


@dataclass(frozen=True)
class Kept:
    """One callout as it came out.

    Attributes:
        said: the callout.
        number: of its phrasing; None where it is not said.
        placed: where it is said; None where it had no room, or was left out.
        crowded: it had no room; else it was left out for the student.
    """

    said: Said
    number: int | None = None
    placed: Placed | None = None
    crowded: bool = True


def kept(
    callouts: Sequence[tuple[Said, Wanted]],
    earliest_s: float,
    loops: Sequence[tuple[float, float]],
) -> list[Kept]:
    """Where each callout is said, with room for the student.

    Args:
        callouts: in the order in which they must be said, each with all its phrasings.
        earliest_s: nothing starts before this.
        loops: start and end of each loop, on the clock of the phrasings.
    """
    ways: list[Words] = [tuple(range(len(wanted.phrasings))) for _, wanted in callouts]
    while True:
        found = _placed(callouts, ways, earliest_s)
        narrower = _narrower(found, ways, loops)
        if narrower == ways:
            return found
        ways = narrower


def _placed(
    callouts: Sequence[tuple[Said, Wanted]], ways: Sequence[Words], earliest_s: float
) -> list[Kept]:
    open_ = [
        replace(wanted, phrasings=tuple(wanted.phrasings[number] for number in numbers))
        for (_, wanted), numbers in zip(callouts, ways, strict=True)
        if numbers
    ]
    places = iter(place(open_, earliest_s))
    found = []
    for (said, _), numbers in zip(callouts, ways, strict=True):
        placed = next(places) if numbers else None
        number = None if placed is None else numbers[placed.number]
        found.append(Kept(said, number, placed, crowded=bool(numbers)))
    return found


def _narrower(
    found: Sequence[Kept], ways: Sequence[Words], loops: Sequence[tuple[float, float]]
) -> list[Words]:
    """The phrasings that are left once every rule was looked at; the same where none is broken."""
    narrower = list(ways)
    before: dict[int, int] = {}
    for index, one in enumerate(found):
        if one.number is None or one.said.callout is None:
            continue
        earlier = before.get(one.said.callout, -1)
        shorter = tuple(number for number in ways[index] if number > earlier)
        if one.number <= earlier and shorter:
            narrower[index] = shorter
        before[one.said.callout] = max(one.number, earlier)
    if narrower == list(ways):
        for begin_s, end_s in loops[1:]:
            _leave_room(found, narrower, begin_s, end_s)
    return narrower


def _leave_room(found: Sequence[Kept], ways: list[Words], begin_s: float, end_s: float) -> None:
    """Shorten one callout of a loop in which too much is said, or leave it out."""

    def heard_s(one: Kept) -> float:
        if one.placed is None:
            return 0.0
        start_s = one.placed.start_s
        return max(0.0, min(end_s, start_s + one.placed.phrasing.length_s) - max(begin_s, start_s))

    inside = [index for index, one in enumerate(found) if heard_s(one) > 0.0]
    if sum(heard_s(found[index]) for index in inside) <= MOST_SAID * (end_s - begin_s):
        return

    def least(which: list[int], rank: Callable[[Said], int]) -> int | None:
        """The least important of some, the longest of those."""
        return max(which, key=lambda i: (rank(found[i].said), heard_s(found[i])), default=None)

    def rank(said: Said) -> int:
        return KINDS.index("safety" if said.is_safety else said.kind)

    shortened = least([i for i in inside if found[i].number != ways[i][-1]], rank)
    if shortened is not None:
        number = found[shortened].number
        ways[shortened] = tuple(n for n in ways[shortened] if number is not None and n > number)
        return
    out = least(
        [i for i in inside if found[i].said.kind not in _SPARED and not found[i].said.is_safety],
        rank,
    )
    if out is not None:
        ways[out] = ()
