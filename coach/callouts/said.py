"""Everything that may be said along a flight, in words: what fits is not yet known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from coach.callouts.cuesheet import Phrase
from coach.callouts.figures import say_niner, say_number, spoken_out
from coach.callouts.own import fields, named, silent
from coach.callouts.support import SUPPORTS, Support, SupportLevel
from coach.callouts.wording import render, values
from coach.flight.asked import true
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked, AskedNumber
from coach.script.maneuver import Callout
from coach.words import listed

_SIDES = {"side", "other_side", "next"}
"""What a script says that goes to a side: where the coach asks, it tells which one is next."""

COUNT_FROM = 3
"""The count-in: this many numbers, a second apart."""


@dataclass(frozen=True)
class Question:
    """What is asked, and for which numbers."""

    phrase: Phrase
    asks: tuple[Asked, ...]


@dataclass(frozen=True)
class Said:
    """A callout of one loop, or a question and its answer, in words.

    Attributes:
        time_s: its moment on the flight's clock.
        kind: one of `coach.callouts.placement.KINDS`.
        phrasings: from the best to the least, which mostly is from long to short.
        where: which loop, and what of it.
        loop: which loop, from 1.
        callout: its number in the script; None for what the coach asks or answers by itself.
        is_safety: it is not what is left out.
        lead_s: how long before its moment a script wants it.
        moment: index in the flight's moments of the checkpoint that it names or asks about.
        questions: where the coach asks, what it asks before each phrasing; None before one that
            only tells.
    """

    time_s: float
    kind: str
    phrasings: tuple[Phrase, ...]
    where: str
    loop: int
    callout: int | None = None
    is_safety: bool = False
    lead_s: float = 0.0
    moment: int | None = None
    questions: tuple[Question | None, ...] = ()


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
        asked = (one.phrase for said in self.callouts for one in said.questions if one)
        return list(dict.fromkeys((*self.introduction, *self.count, *asked, *flown)))


def words(flight: Flight, support: Support, warnings: tuple[str, ...], *, niner: bool) -> Words:
    """What may be said in one rehearsal.

    Args:
        flight: the flight.
        support: how much the coach says; the introduction is always said.
        warnings: sentences of the brief that must be heard as well, after the title.
        niner: whether the digit nine is spoken "niner".
    """
    level = SUPPORTS[support]
    callouts = [*_callouts(flight, level), *(_questions(flight) if level.asks else ())]
    found = Words(_introduction(flight, warnings), _count(), tuple(callouts))
    return _with_niner(found) if niner else found


def introduction(flight: Flight, warnings: tuple[str, ...], *, niner: bool) -> tuple[Phrase, ...]:
    """What is said before anything else, as in `words`."""
    said = _introduction(flight, warnings)
    return tuple(say_niner(phrase) for phrase in said) if niner else said


def _introduction(flight: Flight, warnings: tuple[str, ...]) -> tuple[Phrase, ...]:
    known = values(flight, flight.moment(0.0, 1, "start"))
    title, *rest = _filled(flight.maneuver.introduction, known)
    return (title, *(Phrase(line, spoken_out(line)) for line in warnings), *rest)


def _count() -> tuple[Phrase, ...]:
    numbers = range(COUNT_FROM, 0, -1)
    return tuple(Phrase(str(number), say_number(number).capitalize()) for number in numbers)


def _callouts(flight: Flight, level: SupportLevel) -> Iterator[Said]:
    """Every callout that is said at this level, in every loop in which it is."""
    checkpoints = {(one.loop, one.name): index for index, one in enumerate(flight.moments)}
    # What only the handbook knows is said once, in the introduction if that says it.
    unknown = silent(flight.airplane)
    told = named(flight.maneuver.introduction) & unknown
    for loop, number, callout in _wanted(flight):
        at = callout.at
        when = flight.when(at, loop)
        if when is None or not _is_said(callout, level):
            continue
        names = callout.kind == "checkpoint" and at.checkpoint is not None
        known = values(flight, flight.moment(when, loop, at.checkpoint or ""))
        say = [one for one in callout.say if told.isdisjoint(named([one]))]
        told |= unknown & named(say)
        phrasings = _filled(say, known, landing=names)
        if not phrasings:  # all of it is about what this airplane has not got, or was said before
            continue
        yield Said(
            time_s=when,
            kind=callout.kind,
            phrasings=phrasings,
            where=f"loop {loop}, {at.checkpoint or at.leg or 'on the way'}",
            loop=loop,
            callout=number,
            is_safety=callout.is_safety,
            lead_s=callout.lead,
            moment=checkpoints[loop, at.checkpoint or ""] if names else None,
        )


def _is_said(callout: Callout, level: SupportLevel) -> bool:
    if callout.kind in level.kinds:
        return True
    # Where the coach asks, a checkpoint's answer keeps the words that are never left out.
    return (
        callout.is_safety
        and "safety" in level.kinds
        and not (level.asks and callout.kind == "checkpoint")
    )


def _wanted(flight: Flight) -> Iterator[tuple[int, int, Callout]]:
    """Each loop with the callouts that the script has in it, by their numbers."""
    for loop in range(1, len(flight.sides) + 1):
        last = loop == len(flight.sides)
        which = "last" if last else (loop - 1) % len(flight.maneuver.sides) + 1
        for number, callout in enumerate(flight.maneuver.callouts):
            if not callout.loops or which in callout.loops:
                yield loop, number, callout


def told(moment: Moment) -> dict[Asked, str]:
    """How each number is told at a checkpoint, as a script would write it."""

    def way(name: Asked, number: AskedNumber) -> str:
        if number.told_zero and not round(true(name, moment)):
            return number.told_zero
        return f"{{{name}}}" if number.unit_tells else f"{name} {{{name}}}"

    return {name: way(name, number) for name, number in ASKED.items()}


def _questions(flight: Flight) -> Iterator[Said]:
    """Every checkpoint's question and its answer."""
    kept = {
        (loop, callout.at.checkpoint): callout.never_without
        for loop, _, callout in _wanted(flight)
        if callout.kind == "checkpoint"
    }
    last = {moment.loop: index for index, moment in enumerate(flight.moments)}
    turns = _SIDES & fields(flight.maneuver)
    for index, moment in enumerate(flight.moments):
        known, ways = values(flight, moment), told(moment)
        never = kept.get((moment.loop, moment.name), ())
        if index == last[moment.loop] and turns and "{next}" not in never:
            never = (*never, "{next}")
        # Where there is no room for all of them, the most telling ones.
        some = [moment.asks[:count] for count in range(len(moment.asks), -1, -1)]
        answers = {
            which: render(
                _sentences("{name}", never, [ways[one] for one in which]), known, landing=True
            )
            for which in some
        }
        asked = [
            (answers[which], Question(render(f"{listed(which)}{ending}?", known), which))
            for which in some[:-1]
            for ending in (" at {name}", "")
        ]
        yield Said(
            time_s=moment.time_s,
            kind="checkpoint",
            phrasings=(*(answer for answer, _ in asked), *answers.values()),
            where=f"loop {moment.loop}, {moment.name}",
            loop=moment.loop,
            is_safety=bool(never),
            moment=index,
            questions=(*(question for _, question in asked), *(None for _ in answers)),
        )


def _sentences(name: str, *lists: Sequence[str]) -> str:
    """A name, and each list that holds anything as a sentence."""
    return " ".join(f"{part}." for part in (name, *(", ".join(some) for some in lists)) if part)


def _filled(
    say: Iterable[str], known: dict[str, Phrase], *, landing: bool = False
) -> tuple[Phrase, ...]:
    filled = dict.fromkeys(render(one, known, landing=landing) for one in say)
    return tuple(phrase for phrase in filled if phrase.text)


def _with_niner(found: Words) -> Words:
    """The one place where nine becomes niner."""

    def said(phrases: tuple[Phrase, ...]) -> tuple[Phrase, ...]:
        return tuple(say_niner(phrase) for phrase in phrases)

    callouts = tuple(
        replace(
            one,
            phrasings=said(one.phrasings),
            questions=tuple(
                asked and replace(asked, phrase=say_niner(asked.phrase)) for asked in one.questions
            ),
        )
        for one in found.callouts
    )
    return Words(said(found.introduction), said(found.count), callouts)
