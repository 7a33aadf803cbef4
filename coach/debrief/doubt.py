"""Where something that a student said was not perceived, so that nothing is held against them.

- A sound that was not understood, or came while the ears were busy, was something said. Wherever
  it may have belonged to a checkpoint, only what is right there counts: a missed call may have been
  that one, and a wrong number may have been put right by it.
- While the coach spoke over a loudspeaker, without a microphone, where nothing stood out of a loud
  room, or in a run in which nothing was heard at all, nobody knows whether anything was said. A
  call belongs at its checkpoint: it is doubtful where the ears were closed then. An answer may come
  at any time after its question: a missing one is doubtful where the ears were never open for long
  enough to give it, or the room was loud. Or it came too soon, wholly under the question: silence
  after a question is a miss only of a student who is known to wait for the end of questions, of
  which more than half were answered in that run so that it was heard. Such a miss is told last,
  with what helps, for even that student may have answered this one too soon.

Who only presses keys is judged by the keys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.callouts.support import SUPPORTS
from coach.debrief.answers import NOW_S, place
from coach.flight.moment import Moment
from coach.logbook.run import Run
from coach.taps.tap import UNCLEAR, Tap
from coach.taps.timing import WINDOW_S
from coach.taps.unheard import NOT_SEEN, Unheard, Why

CLOSED: tuple[Why, ...] = (
    "the coach spoke",
    "no microphone",
    "the room was loud",
    "nothing was heard",
)
"""Reasons that do not tell whether anything was said."""

CALL_S = 0.6
"""So close to its checkpoint a name is called that is on time, and so long it takes to say it
(common practice, no source)."""

ANSWER_S = 2.0
"""Ears that are open for so long hear an answer: two numbers take 2 s (common practice, no
source), and who has begun is heard beginning."""


@dataclass(frozen=True)
class Doubt:
    """What is doubtful at one checkpoint.

    Attributes:
        said: why something that was said there was not perceived.
        call: why a call of it would not have been.
        answer: why an answer to its question would not have been.
        question: why an answer under its question would not have been.
    """

    said: tuple[Why, ...] = ()
    call: tuple[Why, ...] = ()
    answer: tuple[Why, ...] = ()
    question: tuple[Why, ...] = ()


def doubts(run: Run, moments: Sequence[Moment], done: Sequence[Tap]) -> tuple[Doubt, ...]:
    """What is doubtful at each checkpoint.

    Args:
        run: the run.
        moments: its checkpoints, in time.
        done: what the student did, in own seconds.
    """
    planned = [moment.time_s / run.pace for moment in moments]
    unclear = _unclear(planned, done)
    stretches = _own_stretches(run) if speaks(run) else []
    asks = run.support in SUPPORTS and SUPPORTS[run.support].asks
    asked = [index for index, moment in enumerate(moments) if asks and moment.asks]
    answered = _answered(planned, done).intersection(asked)
    answers = bool(answered) or not done
    waits = not answers or 2 * len(answered) > len(asked)
    found = []
    for index, at in enumerate(planned):
        is_asked = index in asked
        begin_s = (planned[index - 1] if index else 0.0) if is_asked else at - WINDOW_S
        end_s = at + (NOW_S if is_asked else WINDOW_S)
        said = [one for one in stretches if one.why not in CLOSED]
        closed = [one for one in stretches if one.why in CLOSED]
        why = _whys(_between(said, begin_s, end_s))
        if index in unclear:
            why = tuple(dict.fromkeys([*why, "not understood"]))
        during = _between(closed, begin_s, at)
        is_short = _open_s(during, begin_s, at) < min(ANSWER_S, 0.5 * (at - begin_s))
        is_shut = is_short or any(one.why == "the room was loud" for one in during)
        spoke = [one for one in during if one.why == "the coach spoke"]
        found.append(
            Doubt(
                said=why,
                call=_whys(_between(closed, at - CALL_S, at + 2.0 * CALL_S)),
                answer=_whys(during if is_shut else () if waits else spoke) if is_asked else (),
                question=_whys(spoke) if is_asked and answers else (),
            )
        )
    return tuple(found)


def speaks(run: Run) -> bool:
    """Whether the student speaks in it; one who did nothing may have spoken and not been heard."""
    return not run.taps or any(tap.how == "voice" for tap in run.taps)


def _own_stretches(run: Run) -> list[Unheard]:
    """Of the voice, in own seconds."""
    return sorted(
        (
            Unheard(one.from_s / run.pace, one.to_s / run.pace, one.why)
            for one in run.unheard
            if one.why != NOT_SEEN
        ),
        key=lambda one: one.from_s,
    )


def _between(stretches: Sequence[Unheard], begin_s: float, end_s: float) -> list[Unheard]:
    return [one for one in stretches if one.to_s >= begin_s and one.from_s <= end_s]


def _whys(stretches: Sequence[Unheard]) -> tuple[Why, ...]:
    return tuple(dict.fromkeys(one.why for one in stretches))


def _open_s(closed: Sequence[Unheard], begin_s: float, end_s: float) -> float:
    """The longest time without a stretch, of some in the order of their beginnings."""
    longest_s, here_s = 0.0, begin_s
    for one in closed:
        longest_s = max(longest_s, one.from_s - here_s)
        here_s = max(here_s, one.to_s)
    return max(longest_s, end_s - here_s)


def _answered(planned: Sequence[float], done: Sequence[Tap]) -> set[int]:
    """The checkpoints whose question was answered so that it was heard, understood or not."""
    return {
        place(planned, tap.time_s, tap.hesitation_s) for tap in done if tap.hesitation_s is not None
    }


def _unclear(planned: Sequence[float], done: Sequence[Tap]) -> set[int]:
    """The checkpoints to which taps that were not understood belong."""
    found = set()
    for tap in done:
        if tap.said != UNCLEAR:
            continue
        if tap.hesitation_s is not None:
            found.add(place(planned, tap.time_s, tap.hesitation_s))
            continue
        away = {index: abs(at - tap.time_s) for index, at in enumerate(planned)}
        nearest = min(away.values(), default=WINDOW_S)
        found |= {index for index, off in away.items() if off == nearest <= WINDOW_S}
    return found
