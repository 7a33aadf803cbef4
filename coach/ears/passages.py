"""What is listened for along a soundtrack: one passage after the other, each with its grammar."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

from coach.callouts.cuesheet import Cue, CueSheet
from coach.ears.grammar import Grammar, Meaning, answer, callout, orders
from coach.ears.spoken import Spoken
from coach.ears.utterance import NOISE, SURE, Utterance
from coach.flight.moment import Moment

_TOO_SOON_S = 0.3
"""A quick student begins before the last sound of the question is over."""

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
        question: the question it follows, or None.
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


def passages(sheet: CueSheet, moments: tuple[Moment, ...]) -> Passages:
    """After each question its answers, up to the next words of the coach; elsewhere callouts.

    A callout belongs to the checkpoint that is nearest in time.
    """
    due = [sheet.position_s(moment.time_s) for moment in moments]
    halfway = [0.0, *((one + other) / 2.0 for one, other in pairwise(due))]
    nearest = [
        Passage(from_s, index, callout(moments, index)) for index, from_s in enumerate(halfway)
    ]
    found = list(nearest)
    for question in sheet.cues:
        if not question.gap_s or question.moment is None:
            continue
        begin, end = question.end_s - _TOO_SOON_S, _spoken_next(sheet, question)
        after = Passages(tuple(nearest)).at(end)
        found = [passage for passage in found if not begin <= passage.from_s <= end]
        grammar = answer(moments, question.moment)
        found.append(Passage(begin, question.moment, grammar, question))
        found.append(Passage(end, after.moment, after.grammar, told=question))
    return Passages(tuple(sorted(found, key=lambda passage: passage.from_s)))


def placed(
    utterance: Utterance, position_s: float, passage: Passage, sheet: CueSheet
) -> Spoken | None:
    """An utterance as `coach.ears.spoken` has it; None for what is no callout at all.

    Nothing but a right answer sounds like one by chance, so that a right number need not be as
    certain as a wrong one. Where the coach asks, numbers are answers, or they are not counted: what
    it has just told is no answer any more.

    Args:
        utterance: what was heard.
        position_s: where on the soundtrack its first word began.
        passage: whose grammar it was heard with.
        sheet: the rehearsal's cue sheet.
    """
    if utterance.sure < NOISE:
        return None
    said = passage.grammar.parse(utterance.words)
    sure = said is not None and (
        utterance.sure >= SURE or (bool(said.values) and passage.grammar.is_right(said))
    )
    spoken = Spoken(sheet.flight_s(position_s), said or Meaning(), sure)
    if spoken.said.order:
        return spoken
    question = passage.question
    if question is None and position_s < sheet.flight_start_s + _START_S:
        return None
    if question is None and any(cue.gap_s for cue in sheet.cues):
        if passage.told is not None and position_s < passage.from_s + _REPEATED_S:
            question = passage.told if spoken.said.values else None
        elif not (sure and spoken.said.names):
            return None
        else:
            spoken = replace(spoken, said=Meaning(spoken.said.names))
    if question is None:
        return spoken
    hesitation_s = max(0.0, position_s - question.end_s)
    return replace(spoken, question=question.moment, hesitation_s=hesitation_s)


def _spoken_next(sheet: CueSheet, question: Cue) -> float:
    gap = question.end_s + question.gap_s
    later = [cue.start_s for cue in sheet.cues if cue.phrase and cue.start_s >= gap - 0.01]
    return min(later, default=gap)
