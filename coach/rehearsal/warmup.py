"""A warm-up made ready: which of its maneuvers this airplane can fly on this day, and how long."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from coach.flight.day import Day, shared
from coach.flight.flight import Flight
from coach.problems import Problem, nearest
from coach.rehearsal import ready as rehearsal
from coach.script import catalog
from coach.script.warmup import Item, Warmup
from coach.words import counted

SPOKEN_S = 20.0
"""About so long the coach speaks before and after a maneuver is flown."""


@dataclass(frozen=True)
class Part:
    """One maneuver of a warm-up, on its own day.

    Attributes:
        item: as the script has it.
        place: in the warm-up, from 1.
        day: with the item's direction and loops.
        flight: how it is flown.
    """

    item: Item
    place: int
    day: Day
    flight: Flight


def planned(
    script: Warmup,
    airplane: str,
    day: Day,
    *,
    first: int = 1,
    show: Callable[[str], None] = lambda _: None,
) -> tuple[tuple[Part, ...], dict[str, Problem]]:
    """Fly every maneuver of a warm-up once.

    An altitude is only for those that are entered up high: the others begin at their own height
    above the ground.

    Args:
        script: the warm-up.
        airplane: its name or file.
        day: of all of them; an item's own direction and loops come first.
        first: the place of the first to be flown, from 1.
        show: called with the name of each before it is flown.

    Returns:
        Those that can be flown, and what is wrong with the others, by name.

    Raises:
        Problem: none of them can be flown; it is that of the first.
    """
    parts, left_out = [], {}
    flights: dict[tuple[str, Day], Flight] = {}
    for place, item in enumerate(script.maneuvers, 1):
        if place < first:
            continue
        show(item.maneuver)
        try:
            its_day = replace(
                shared(day, catalog.maneuver(item.maneuver)),
                loops=item.loops or day.loops,
                direction=item.direction or day.direction,
            )
            key = item.maneuver, its_day
            if key not in flights:
                flights[key] = rehearsal.fly(item.maneuver, airplane, its_day)
        except Problem as problem:
            left_out[item.maneuver] = problem
        else:
            parts.append(Part(item, place, its_day, flights[key]))
    if not parts:
        raise next(iter(left_out.values()))
    return tuple(parts), left_out


def summary(script: Warmup, parts: Sequence[Part], pace: float = 1.0) -> str:
    """What is in a warm-up and about how long it takes at this pace, in a line."""
    seconds = sum(
        part.flight.length_s / (pace * part.item.pace) + SPOKEN_S + script.pause for part in parts
    )
    count = counted(len(parts), "maneuver")
    listed = ", ".join(part.item.maneuver for part in parts)
    return f"{script.warmup}: {count}, about {max(1, round(seconds / 60))} min: {listed}."


def place(script: Warmup, called: str) -> int:
    """The place of a maneuver in a warm-up, from 1, by its name or by that number.

    Raises:
        Problem: it is not in it.
    """
    names = [item.maneuver for item in script.maneuvers]
    if called in names:
        return names.index(called) + 1
    if called.isdecimal() and 1 <= int(called) <= len(names):
        return int(called)
    raise Problem(f"{script.warmup} has no '{called}'{nearest(called, names)}", "start")


def called(script: Warmup, at: int) -> str:
    """How `place` finds a place again: by name, or by number where an earlier one has the name."""
    names = [item.maneuver for item in script.maneuvers[: at - 1]]
    name = script.maneuvers[at - 1].maneuver
    return str(at) if name in names else name
