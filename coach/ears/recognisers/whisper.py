"""Whisper's transcripts, and the sentence of a place's grammar that they stand for.

What it writes down is held against every sentence of the grammar by its sounds; what fits best, and
what fits almost as well with another number or name in it, is weighed by the transcripts' own
likelihoods and by how likely a student says it at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from coach.ears.figures import likely
from coach.ears.grammar import Grammar, Meaning
from coach.ears.recognisers.distance import distances
from coach.ears.recognisers.graph import Graph, Numbers
from coach.ears.recognisers.prompt import prompt
from coach.ears.recognisers.readings import readings
from coach.ears.recognisers.recogniser import Heard
from coach.ears.recognisers.search import near
from coach.ears.recognisers.sounds import sounds
from coach.ears.recognisers.sureness import Signs, mistaken, odds, understood
from coach.ears.recognisers.transcripts import Transcriber, Transcript
from coach.ears.segments import MARGIN_S, RATE, Segment

BY_TEXT = 0.5
"""How much a transcript's own likelihood counts against its distance in sounds."""

# What each of `Weighed.measures` counts; chosen on the tuning voices (`tests.bench.sureness`).
WEIGHTS = (2.9, 1.71, 2.31, -2.22, 0.9, -1.0)

_SEARCHED = 3
"""Readings of which the grammar's sentences are searched for."""
_WITHIN = 6.0
_SENTENCES = 40
_WEIGHED = 60
_LEAST_FIT = -15.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Place:
    """What is ready for one grammar."""

    graph: Graph
    prompt: list[str]


@dataclass(frozen=True, eq=False)
class Weighed:
    """What a stretch of sound may have been.

    Attributes:
        words: of each sentence.
        meanings: of each of them.
        apart: of each of them, how far the nearest transcript is, in sounds.
        measures: of each of them a row: how well all the transcripts fit, 0 at best; how usual its
            wording is, 0 at best; and `_measures`.
    """

    words: tuple[str, ...]
    meanings: tuple[Meaning, ...]
    apart: Floats
    measures: Floats


class Whisper:
    """Knows grammars, and hears with any of them.

    Args:
        transcriber: what writes down what it hears.
    """

    def __init__(self, transcriber: Transcriber) -> None:
        self._transcriber = transcriber
        self._places: dict[str, _Place] = {}

    def learn(self, grammar: Grammar) -> tuple[str, ...]:
        """See `Recogniser`; there is a sound for every word."""
        if grammar.jsgf not in self._places:
            self._places[grammar.jsgf] = _Place(
                Graph(grammar.shapes, grammar.rules), self._transcriber.prompt(prompt(grammar))
            )
        return ()

    def hear(self, segment: Segment, grammar: Grammar) -> Heard | None:
        """See `Recogniser`."""
        found = self.weighed(self.written(segment, grammar), grammar)
        if found is None:
            return None
        return _heard(found, found.measures @ WEIGHTS, segment, grammar)

    def written(self, segment: Segment, grammar: Grammar) -> list[Transcript]:
        """What is written down of a stretch of sound at a place."""
        return self._transcriber.transcripts(segment.samples, self._places[grammar.jsgf].prompt)

    def weighed(self, written: Sequence[Transcript], grammar: Grammar) -> Weighed | None:
        """Every sentence that may have been said there; None where nothing was."""
        place = self._places[grammar.jsgf]
        heard = [[sounds(row) for row in readings(one.text)] for one in written]
        rows = list(dict.fromkeys(row for each in heard for row in each))
        found = near(place.graph, rows[:_SEARCHED], within=_WITHIN, most=_SENTENCES)
        sentences = {one.words: one.unusual for each in found for one in each}
        if not sentences:
            return None
        words = [*sentences]
        spoken = [sounds(one.split()) for one in words]
        from_row = dict(zip(rows, (distances(row, spoken) for row in rows), strict=True))
        counted = [one for one, each in zip(written, heard, strict=True) if each]
        apart = np.array(
            [np.min([from_row[row] for row in each], axis=0) for each in heard if each]
        )
        texts = np.array([BY_TEXT * one.log_likely for one in counted])
        fits = np.logaddexp.reduce(texts[:, None] - apart, axis=0)
        fits = np.maximum(fits - fits.max(), _LEAST_FIT)
        order = [
            (index, meaning)
            for index in np.argsort(-fits, kind="stable")[:_WEIGHED].tolist()
            if (meaning := grammar.parse(words[index])) is not None
        ]
        if not order:
            return None
        kept = [index for index, _ in order]
        return Weighed(
            words=tuple(words[index] for index in kept),
            meanings=tuple(meaning for _, meaning in order),
            apart=apart.min(axis=0)[kept],
            measures=np.array(
                [
                    (fits[at], -sentences[words[at]], *_measures(meaning, grammar))
                    for at, meaning in order
                ]
            ),
        )


def _heard(found: Weighed, scores: Floats, segment: Segment, grammar: Grammar) -> Heard:
    """The likeliest meaning, in its likeliest words."""
    first, groups = same(found.meanings)
    mistakes = np.array([not is_as_it_should_be(meaning, grammar) for meaning in first])
    best, share, wrong = chosen(scores, groups, mistakes)
    told = signs(found, best, share, wrong)
    sure = mistaken(told) if mistakes[groups[best]] else understood(told)
    # Whisper tells no times; the cut knows where a voice began and was over.
    end_s = max(MARGIN_S, len(segment.samples) / RATE - MARGIN_S)
    return Heard(found.words[best], MARGIN_S, end_s, sure)


def same(meanings: Sequence[Meaning]) -> tuple[list[Meaning], Numbers]:
    """Every meaning once, and of each of them the number of the one that it is."""
    keys = [(tuple(sorted(one.values.items())), one.names, one.order) for one in meanings]
    first = dict(zip(reversed(keys), reversed(meanings), strict=True))
    order = list(dict.fromkeys(keys))
    return [first[key] for key in order], np.array([order.index(key) for key in keys])


def chosen(
    scores: Floats, groups: Numbers, mistakes: npt.NDArray[np.bool_]
) -> tuple[int, float, float]:
    """The likeliest meaning.

    Args:
        scores: of each sentence, the logarithm of how likely it is, but for a factor.
        groups: of each sentence, which meaning it has.
        mistakes: of each meaning, whether it is one.

    Returns:
        Its likeliest sentence, how likely it is, and how likely it is that any mistake was said.
    """
    likely_of = np.exp(scores - np.logaddexp.reduce(scores))
    shares = np.bincount(groups, likely_of, len(mistakes))
    best = int(np.where(groups == shares.argmax(), scores, -np.inf).argmax())
    return best, float(shares.max()), float(shares[mistakes].sum())


def signs(found: Weighed, best: int, share: float, wrong: float) -> Signs:
    """The signs of one sentence.

    Args:
        found: all that may have been said.
        best: the sentence.
        share: how likely its meaning is.
        wrong: how likely it is that any mistake was said.
    """
    count = len(sounds(found.words[best].split()))
    return Signs(
        ahead=max(-3.0, min(6.0, odds(share))),
        apart=float(found.apart[best]) / max(3, count),
        wrong=odds(wrong),
    )


def is_as_it_should_be(meaning: Meaning, grammar: Grammar) -> bool:
    """Whether every number is right, and the checkpoint that is named the one that is due."""
    undue = bool(meaning.names) and meaning.names[0] != grammar.due
    return grammar.is_right(meaning) and not undue


def _measures(meaning: Meaning, grammar: Grammar) -> tuple[float, ...]:
    """What speaks for a meaning, beside how a sentence sounds.

    Returns:
        The logarithm of how likely a student believes its numbers; and 1 where it names another
        checkpoint than is due, where it has all the numbers that are asked for, and where it is an
        order, else 0.
    """
    believed = sum(
        math.log(likely(one, value, grammar.expected[one])) for one, value in meaning.values.items()
    )
    undue = bool(meaning.names) and meaning.names[0] != grammar.due
    complete = 0 < len(meaning.values) == len(grammar.expected)
    return believed, undue, complete, meaning.order is not None
