"""Everything that may be said along a flight, in words: what fits is not yet known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from coach.callouts.cuesheet import Phrase
from coach.callouts.support import SUPPORTS, Support
from coach.callouts.wording import render, say_niner, say_number, spoken_out, values
from coach.flight.asked import true
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked, AskedNumber
from coach.words import listed

COUNT_FROM = 3
"""The count-in: this many numbers, a second apart."""


@dataclass(frozen=True)
class Said:
    """A callout of one loop, or a question, in words.

    Attributes:
        time_s: its moment on the flight's clock.
        kind: one of `coach.callouts.placement.KINDS`.
        phrasings: from long to short.
        where: which loop, and what of it.
        lead_s: how long before its moment a script wants it.
        moment: index in the flight's moments of the checkpoint that it names or asks about.
        answers: for a question, what is said at its checkpoint, from long to short.
    """

    time_s: float
    kind: str
    phrasings: tuple[Phrase, ...]
    where: str
    lead_s: float = 0.0
    moment: int | None = None
    answers: tuple[Phrase, ...] = ()


@dataclass(frozen=True)
class Words:
    """The words of one rehearsal: before the start, counting in, and in flight."""

    introduction: tuple[Phrase, ...]
    count: tuple[Phrase, ...]
    callouts: tuple[Said, ...]

    @property
    def phrases(self) -> list[Phrase]:
        """Each phrase once, in the order of its first use."""
        flown = (phrase for one in self.callouts for phrase in one.phrasings)
        return list(dict.fromkeys((*self.introduction, *self.count, *flown)))


def words(flight: Flight, support: Support, warnings: tuple[str, ...], *, niner: bool) -> Words:
    """What may be said in one rehearsal.

    Args:
        flight: the flight.
        support: how much the coach says; the introduction is always said.
        warnings: sentences of the brief that must be heard as well, after the title.
        niner: whether the digit nine is spoken "niner".
    """
    level = SUPPORTS[support]
    callouts = [*_callouts(flight, level.kinds), *(_questions(flight) if level.asks else ())]
    found = Words(_introduction(flight, warnings), _count(), tuple(callouts))
    return _with_niner(found) if niner else found


def _introduction(flight: Flight, warnings: tuple[str, ...]) -> tuple[Phrase, ...]:
    known = values(flight, flight.moment(0.0, 1, "start"))
    title, *rest = (render(phrasing, known) for phrasing in flight.maneuver.introduction)
    return (title, *(Phrase(line, spoken_out(line)) for line in warnings), *rest)


def _count() -> tuple[Phrase, ...]:
    numbers = range(COUNT_FROM, 0, -1)
    return tuple(Phrase(str(number), say_number(number).capitalize()) for number in numbers)


def _callouts(flight: Flight, kinds: tuple[str, ...]) -> Iterator[Said]:
    """Every callout of these kinds in every loop in which it is said."""
    checkpoints = {(one.loop, one.name): index for index, one in enumerate(flight.moments)}
    wanted = [one for one in flight.maneuver.callouts if one.kind in kinds]
    for loop in range(1, len(flight.sides) + 1):
        last = loop == len(flight.sides)
        which = "last" if last else (loop - 1) % len(flight.maneuver.sides) + 1
        for callout in wanted:
            if callout.loops and which not in callout.loops:
                continue
            at = callout.at
            when = flight.when(at, loop)
            if when is None:
                continue
            named = callout.kind == "checkpoint" and at.checkpoint is not None
            known = values(flight, flight.moment(when, loop, at.checkpoint or ""))
            yield Said(
                time_s=when,
                kind=callout.kind,
                phrasings=_filled(callout.say, known, landing=named),
                where=f"loop {loop}, {at.checkpoint or at.leg or 'on the way'}",
                lead_s=callout.lead,
                moment=checkpoints[loop, at.checkpoint or ""] if named else None,
            )


def told(moment: Moment) -> dict[Asked, str]:
    """How each number is told at a checkpoint, as a script would write it."""

    def way(name: Asked, number: AskedNumber) -> str:
        if number.told_zero and not round(true(name, moment)):
            return number.told_zero
        return f"{{{name}}}" if number.unit_tells else f"{name} {{{name}}}"

    return {name: way(name, number) for name, number in ASKED.items()}


def _questions(flight: Flight) -> Iterator[Said]:
    """Every checkpoint's question and its answer."""
    for index, moment in enumerate(flight.moments):
        known = values(flight, moment)
        ways = [told(moment)[asked] for asked in moment.asks]
        # Where there is no room for all of them, the most telling ones.
        counts = range(len(ways), 0, -1)
        numbers = (f"{{name}}. {', '.join(ways[:count])}." for count in counts)
        answers = _filled((*numbers, "{name}."), known, landing=True)
        where = f"loop {moment.loop}, {moment.name}"
        if moment.asks:
            asked = listed(moment.asks)
            questions = _filled((f"{asked} at {{name}}?", f"{asked}?", "{name}?"), known)
            yield Said(moment.time_s, "question", questions, where, moment=index, answers=answers)
        yield Said(moment.time_s, "checkpoint", answers, where, moment=index)


def _filled(
    say: tuple[str, ...], known: dict[str, Phrase], *, landing: bool = False
) -> tuple[Phrase, ...]:
    return tuple(dict.fromkeys(render(one, known, landing=landing) for one in say))


def _with_niner(found: Words) -> Words:
    """The one place where nine becomes niner."""

    def said(phrases: tuple[Phrase, ...]) -> tuple[Phrase, ...]:
        return tuple(say_niner(phrase) for phrase in phrases)

    callouts = tuple(
        replace(one, phrasings=said(one.phrasings), answers=said(one.answers))
        for one in found.callouts
    )
    return Words(said(found.introduction), said(found.count), callouts)
