"""What a student said, held against the checkpoints and the questions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.ears.grammar import Said
from coach.flight.asked import is_right, right
from coach.flight.moment import Moment
from coach.script.maneuver import Asked
from coach.taps.tap import Tap

ON_TIME_S = 1.0
"""A name begun so near to its checkpoint is on time: a spoken word is no key press (a guess)."""

WINDOW_S = 4.0
"""What is further from every checkpoint belongs to none, as for taps."""

Verdict = Literal["on time", "early", "late", "wrong value", "out of order", "unclear", "missed"]


@dataclass(frozen=True)
class Spoken:
    """An utterance at its place.

    Attributes:
        at_s: when its first word began, in seconds on the flight's clock.
        said: what it means.
        sure: whether the recogniser is sure of it.
        question: index of the checkpoint whose question it follows, or None.
        hesitation_s: the student's own seconds from the end of that question, or None.
        gap_s: how long the question left for an answer.
    """

    at_s: float
    said: Said
    sure: bool = True
    question: int | None = None
    hesitation_s: float | None = None
    gap_s: float = 0.0


@dataclass(frozen=True)
class Answer:
    """What a student made of one checkpoint or of its question.

    Attributes:
        moment: index of the checkpoint.
        word: the verdict. "unclear" is something that was heard and not understood: no mistake.
        at_s: when it was said, on the flight's clock; None where nothing was.
        said: the numbers.
        right: which of them are within their tolerance.
        hesitation_s: the student's own seconds from the question's end; None without a question.
    """

    moment: int
    word: Verdict
    at_s: float | None = None
    said: Mapping[Asked, float] | None = None
    right: Mapping[Asked, bool] | None = None
    hesitation_s: float | None = None


def judge(
    moments: Sequence[Moment], asked: Iterable[int], spoken: Iterable[Spoken], *, until_s: float
) -> tuple[Answer, ...]:
    """One verdict for each question and one for each checkpoint that was called out or missed.

    Args:
        moments: the checkpoints.
        asked: indices of those that a question asks about; an answer is due there, elsewhere the
            name, the numbers or both.
        spoken: what was said, in time.
        until_s: how far the run got, on the flight's clock; nothing is missed after it.

    Returns:
        By checkpoint, then by when it was said.
    """
    questions = set(asked)
    of: dict[int, list[Spoken]] = {}
    misplaced: list[Answer] = []
    last = 0
    for one in spoken:
        if one.said.order:
            continue
        if one.question is not None:
            index: int | None = one.question
        else:
            index = _called(moments, one, last)
        if index is None:
            continue
        name = moments[index].name
        if one.question is None and one.said.names and name not in one.said.names:
            misplaced.append(Answer(index, "out of order", one.at_s, one.said.values))
            continue
        last = max(last, index)
        of.setdefault(index, []).append(one)
    found = [
        *misplaced,
        *(_judged(index, moments[index], said) for index, said in of.items()),
        *(
            Answer(index, "missed")
            for index, moment in enumerate(moments)
            if index not in of and moment.time_s <= until_s
            if index in questions or not questions
        ),
    ]
    return tuple(sorted(found, key=_place))


def _place(answer: Answer) -> tuple[int, float]:
    return answer.moment, math.inf if answer.at_s is None else answer.at_s


def taps(moments: Sequence[Moment], spoken: Iterable[Spoken]) -> tuple[Tap, ...]:
    """What was said, as the taps that the rest of the coach gauges.

    A named checkpoint is a plain tap at the name's first sound. Every number is one with a value,
    in the order in which the checkpoint asks for it. What the recogniser is unsure of is none.
    """
    found = []
    for one in spoken:
        if not one.sure or one.said.order:
            continue
        if one.said.names:
            found.append(Tap(one.at_s, how="voice", hesitation_s=one.hesitation_s))
        values = one.said.values
        index = one.question if one.question is not None else _called(moments, one, 0)
        asks = moments[index].asks if index is not None else ()
        found += [
            Tap(one.at_s, abs(values[ask]), "voice", one.hesitation_s)
            for ask in asks
            if ask in values
        ]
    return tuple(found)


def _called(moments: Sequence[Moment], one: Spoken, last: int) -> int | None:
    """The checkpoint that a callout is for: the nearest of its name, else the nearest of all."""
    near = [
        index
        for index, moment in enumerate(moments)
        if index >= last and abs(moment.time_s - one.at_s) <= WINDOW_S
    ]
    named = [index for index in near if moments[index].name in one.said.names]
    away = {index: abs(moments[index].time_s - one.at_s) for index in near}
    return min(named or near, key=lambda index: away[index], default=None)


def _judged(index: int, moment: Moment, spoken: Sequence[Spoken]) -> Answer:
    """All that was said about one checkpoint; a number said twice counts as it was said last."""
    first = spoken[0]
    said = {one: value for part in spoken if part.sure for one, value in part.said.values.items()}
    true = right(moment)
    verdicts = {one: is_right(one, value, true[one]) for one, value in said.items() if one in true}
    word: Verdict = "on time"
    if not all(verdicts.values()):
        word = "wrong value"
    elif not any(part.sure for part in spoken):
        word = "unclear"
    elif first.hesitation_s is not None:
        word = "late" if first.hesitation_s > first.gap_s else "on time"
    elif abs(first.at_s - moment.time_s) > ON_TIME_S:
        word = "late" if first.at_s > moment.time_s else "early"
    return Answer(index, word, first.at_s, said, verdicts, first.hesitation_s)
