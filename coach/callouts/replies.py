"""What the coach may say to an answer: a short yes, or the right value of what was wrong."""

from __future__ import annotations

from itertools import combinations

from coach.callouts.cuesheet import Phrase
from coach.callouts.figures import say_niner
from coach.callouts.said import told
from coach.callouts.wording import render, values
from coach.flight.flight import Flight
from coach.script.asked import Asked

YES = Phrase("Yes.", "Yes")

Wrong = tuple[int, tuple[Asked, ...]]
"""Index of a checkpoint, and which of the numbers that it asks for are wrong, in their order."""


def replies(flight: Flight, *, niner: bool = False) -> dict[Wrong, Phrase]:
    """The reply to every answer that there can be.

    Args:
        flight: the flight.
        niner: whether the digit nine is spoken "niner".
    """
    found: dict[Wrong, Phrase] = {}
    for index, moment in enumerate(flight.moments):
        known, ways = values(flight, moment), told(moment)
        for count in range(1, len(moment.asks) + 1):
            for wrong in combinations(moment.asks, count):
                phrase = render(", ".join(ways[one] for one in wrong) + ".", known)
                found[index, wrong] = say_niner(phrase) if niner else phrase
        found[index, ()] = YES
    return found
