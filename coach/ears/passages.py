"""What is listened for along a soundtrack: one passage after the other, each with its grammar."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from coach.callouts.cuesheet import Cue, CueSheet
from coach.ears.grammar import Grammar, Meaning, answer, callout, orders
from coach.ears.own_voice import Stretch
from coach.ears.spoken import Due, Spoken
from coach.ears.utterance import LOUD_DB, NOISE, SURE, Utterance
from coach.flight.moment import Moment

_START_S = 0.5
"""No checkpoint comes so soon, and in a room the tone of the start sounds like "two"."""

_REPEATED_S = 0.5
"""The coach names the checkpoint before it tells the numbers: what begins sooner after its first
sound cannot be repeated from it (a guess of ours)."""


@dataclass(frozen=True)
class Passage:
    """A part of the soundtrack.

    Attributes:
        from_s: where it begins, in seconds on the soundtrack; it goes on to the next one.
        moment: index of the checkpoint that it is about.
        grammar: what may be said.
        question: the question that is asked and answered in it, or None.
        told: the question that the coach itself answers from here on, or None.
    """

    from_s: float
    moment: int
    grammar: Grammar
    question: Cue | None = None
    told: Cue | None = None


PAUSED = Passage(0.0, 0, orders())
"""Wherever a run is paused."""


@dataclass(frozen=True)
class Passages:
    """Every passage of a rehearsal, by where they begin; the first begins with the soundtrack."""

    passages: tuple[Passage, ...]

    def at(self, position_s: float) -> Passage:
        """The passage at a position of the soundtrack."""
        index = bisect_right([passage.from_s for passage in self.passages], position_s) - 1
        return self.passages[max(0, index)]

    @property
    def awaited(self) -> tuple[Stretch, ...]:
        """Where something ought to be said, from one position to another.

        From each question to the coach's next words; where nothing is asked, around each
        checkpoint.
        """
        ends = [*(passage.from_s for passage in self.passages[1:]), math.inf]
        asks = any(passage.question for passage in self.passages)
        return tuple(
            (passage.from_s, end_s)
            for passage, end_s in zip(self.passages, ends, strict=True)
            if passage.question or not asks
        )


def passages(
    sheet: CueSheet, moments: tuple[Moment, ...], references: Sequence[str | None] = ()
) -> Passages:
    """From each question's first word on its answers, up to the coach's next words; else callouts.

    A student who knows what is coming answers while the coach still asks. A callout belongs to the
    checkpoint that is nearest in time. The references are as in `callout`.
    """
    due = [sheet.position_s(moment.time_s) for moment in moments]
    halfway = [0.0, *((one + other) / 2.0 for one, other in pairwise(due))]
    nearest = [
        Passage(from_s, index, callout(moments, index, references))
        for index, from_s in enumerate(halfway)
    ]
    found = list(nearest)
    for question in sheet.cues:
        if not question.gap_s or question.moment is None:
            continue
        begin, end = question.start_s, _spoken_next(sheet, question)
        after = Passages(tuple(nearest)).at(end)
        found = [passage for passage in found if not begin <= passage.from_s <= end]
        grammar = answer(moments, question.moment)
        found.append(Passage(begin, question.moment, grammar, question))
        found.append(Passage(end, after.moment, after.grammar, told=question))
    return Passages(tuple(sorted(found, key=lambda passage: passage.from_s)))


def placed(
    utterance: Utterance,
    position_s: float,
    passage: Passage,
    sheet: CueSheet,
) -> Spoken:
    """An utterance as `coach.ears.spoken` has it.

    Nothing but a right answer sounds like one by chance, so that a right number need not be as
    certain as a wrong one. Where the coach asks, numbers are answers, or they are not counted: what
    it has just told is no answer any more. What is not whole, or hardly stands out of the room, is
    what it seems to be only where that is right.

    Args:
        utterance: what was heard.
        position_s: where on the soundtrack its first word began.
        passage: whose grammar it was heard with.
        sheet: the rehearsal's cue sheet.
    """
    said = passage.grammar.parse(utterance.words)
    sure = said is not None and utterance.sure >= NOISE and _is_sure(utterance, said, passage)
    spoken = Spoken(sheet.flight_s(position_s), said or Meaning(), sure)
    if spoken.said.order:
        return spoken
    question = passage.question
    if question is not None:
        # What is hardly speech is no answer either.
        due: Due = "now" if utterance.sure >= NOISE else "not at all"
        return _answering(spoken, question, position_s, due)
    if utterance.sure < NOISE or position_s < sheet.flight_start_s + _START_S:
        return replace(spoken, due="not at all")
    if not any(cue.gap_s for cue in sheet.cues):
        return spoken
    told = passage.told
    if told is not None and spoken.said.values and position_s < passage.from_s + _REPEATED_S:
        return _answering(spoken, told, position_s, "now")
    if sure and spoken.said.names:
        return replace(spoken, said=Meaning(spoken.said.names))
    if sure and told is not None and told.moment == passage.moment:
        return _answering(spoken, told, position_s, "too late")
    coming = next((one for one in sheet.cues if one.gap_s and one.start_s > position_s), None)
    if sure and told is None and coming is not None and coming.moment == passage.moment:
        return _answering(spoken, coming, position_s, "too soon")
    return replace(spoken, due="not at all")


def _is_sure(utterance: Utterance, said: Meaning, passage: Passage) -> bool:
    grammar = passage.grammar
    right = grammar.is_right(said) and all(name == grammar.due for name in said.names)
    is_clear = utterance.whole and utterance.stands_out_db >= LOUD_DB
    if not (is_clear or said.order):
        return right
    return utterance.sure >= SURE or (bool(said.values) and grammar.is_right(said))


def _answering(spoken: Spoken, question: Cue, position_s: float, due: Due) -> Spoken:
    hesitation_s = max(0.0, position_s - question.end_s)
    return replace(spoken, question=question.moment, hesitation_s=hesitation_s, due=due)


def _spoken_next(sheet: CueSheet, question: Cue) -> float:
    gap = question.end_s + question.gap_s
    later = [cue.start_s for cue in sheet.cues if cue.phrase and cue.start_s >= gap - 0.01]
    return min(later, default=gap)
