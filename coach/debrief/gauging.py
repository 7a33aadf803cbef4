"""A run's taps against its checkpoints, in the student's own seconds, and its score.

A run is kept on the flight's clock. At half pace one of its seconds takes the student two: judged
there, errors would look half as large as they are. So all timing is judged in own seconds, which
are the flight's divided by the pace; only what an error means in the airplane uses the flight's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from coach.callouts.support import SUPPORTS
from coach.debrief.answers import Answer, answers, given
from coach.debrief.doubt import Doubt, doubts
from coach.debrief.limits import ON_TIME_S, is_within, off, share
from coach.debrief.matching import named, numbered
from coach.debrief.verdict import Timed, Verdict, Word
from coach.flight.moment import Moment
from coach.logbook.run import LoggedRun, Run, Score
from coach.taps.tap import UNCLEAR, Tap
from coach.taps.timing import Timing, distinct, gauge, paired
from coach.taps.unheard import NOT_SEEN

if TYPE_CHECKING:
    from coach.debrief.flown import Flown
    from coach.debrief.hand import Hand

EARS_FIND_S = 0.35
"""So far off the coach's ears may find the beginning of what is said: 95 times in 100 it is 0.06 s
in quiet, at most 0.23 s beside an engine or a fan 10 dB below the voice, and 0.19 to 0.38 s in
babble (`python -m tests.bench.ears`)."""

SAID_ON_TIME_S = round(ON_TIME_S + EARS_FIND_S, 2)
"""The same for a name that is said."""

REACTION_S = 0.15
"""What comes so long after a tone may be an answer to it: simple reactions to a sound take 0.14 to
0.2 s (R. S. Woodworth and H. Schlosberg, Experimental Psychology, 1954, from memory), and who
knows the maneuver taps with the tone, if not a few hundredths before it."""

FEW_TAPS = 3
"""With so few taps a mean or a spread is chance."""

Summary = LoggedRun | Run
"""A run as its score tells it: a line of the logbook, or a whole run."""


@dataclass(frozen=True)
class Gauged:
    """What a student did about the checkpoints a run got to; own seconds throughout.

    A checkpoint is done by the hand, else by a key, else by its name, else by a number close to it,
    else by answering its question.

    Attributes:
        verdicts: on the checkpoints it got to, in time.
        taps: what counts as "now": a key's bounces taken for one, a name only at its checkpoint,
            and a number only near a checkpoint that was not tapped otherwise.
        timing: the match of the two, by index. Only keys pressed without a number are extra taps,
            and only a checkpoint about which nothing was done, and nothing is doubtful, is missed.
        reactions: how many of those on time may have been answers to the coach's own tone.
        hand: what the hand did in all of it; None where none was seen.
    """

    verdicts: tuple[Verdict, ...]
    taps: tuple[Tap, ...]
    timing: Timing
    reactions: int = 0
    hand: Hand | None = None

    @property
    def score(self) -> Score:
        """The run in a few numbers, for the logbook to keep beside it.

        What was not perceived is left out. What a hand flew counts as it was flown. Of taps that
        are on time, two that may have been answers to the coach's tone count as one, and each tap
        too many takes one: whoever hammers the key hits every checkpoint.
        """
        judged = [verdict for verdict in self.verdicts if verdict.word != "not perceived"]
        flown = [verdict for verdict in judged if verdict.flown]
        right = sum(verdict.word == "on time" for verdict in flown)
        tapped = sum(verdict.word == "on time" for verdict in judged) - right
        return Score(
            checkpoints=len(judged),
            tapped=sum(verdict.word != "missed" for verdict in judged),
            on_time=right + max(0, tapped - self.reactions // 2 - len(self.timing.extra)),
            absolute_error_s=self.timing.absolute_error_s,
            flown=len(flown),
        )


def own_taps(run: Run) -> tuple[Tap, ...]:
    """Everything the student did, in time, in own seconds."""
    taps = [replace(tap, time_s=tap.time_s / run.pace) for tap in run.taps]
    return tuple(sorted(taps, key=lambda tap: tap.time_s))


def reached(run: Run) -> tuple[Moment, ...]:
    """The checkpoints a run got to: all if it was finished, else those before its end.

    A student who does nothing but answer is not asked about those whose question had no room.
    """
    moments = run.moments
    if run.ended != "finished":
        moments = tuple(moment for moment in moments if moment.time_s <= run.reached_s)
    answering = any(tap.hesitation_s is not None for tap in run.taps)
    if run.unheard and not run.unseen and not run.taps:
        answering = run.support in SUPPORTS and SUPPORTS[run.support].asks
    told = all(tap.value is not None or tap.said == UNCLEAR for tap in run.taps)
    if answering and told and not run.motion:
        moments = tuple(moment for moment in moments if moment.asks)
    return moments


def gauged(run: Run) -> Gauged:
    """Match what a student did with the checkpoints the run got to."""
    moments = reached(run)
    planned = tuple(moment.time_s / run.pace for moment in moments)
    done = own_taps(run)
    numbers = given(planned, done)
    plain = [tap for tap in done if tap.value is None and tap.said is None]
    apart = {tap.time_s: tap for tap in plain}
    pressed = [apart[time] for time in distinct(tuple(apart))]
    tapped, misnamed = named(moments, planned, done)
    for checkpoint, press in gauge(planned, [tap.time_s for tap in pressed]).pairs:
        tapped[checkpoint] = pressed[press]
    tapped |= numbered(planned, done, tapped)
    verdicts, seen = [], None
    there: Sequence[Flown | None] = [None] * len(moments)
    if run.motion:
        from coach.debrief.flown import everywhere  # it takes long to load

        seen, there = everywhere(run, moments)
    for index, (moment, doubt) in enumerate(zip(moments, doubts(run, moments, done), strict=True)):
        deeds = _Deeds(tapped.get(index), numbers[index], misnamed[index])
        verdict = _verdict(run, moment, deeds, doubt)
        if run.motion or run.unseen:
            verdict = _by_hand(verdict, there[index])
        verdicts.append(verdict)
        if verdicts[-1].tapped_s is None:
            tapped.pop(index, None)
    taps = tuple(sorted({*pressed, *tapped.values()}, key=lambda tap: tap.time_s))
    place_of = {tap: index for index, tap in enumerate(taps)}
    pairs = sorted((checkpoint, place_of[tap]) for checkpoint, tap in tapped.items())
    timing = paired(planned, [tap.time_s for tap in taps], pairs)
    missed = (index for index, verdict in enumerate(verdicts) if verdict.word == "missed")
    extra = (index for index in timing.extra if taps[index].how == "key")
    return Gauged(
        tuple(verdicts),
        taps,
        replace(timing, missed=tuple(missed), extra=tuple(extra)),
        _reactions(run, verdicts),
        seen,
    )


@dataclass(frozen=True)
class _Deeds:
    """What was done about one checkpoint: how it was tapped, and what was said there."""

    tap: Tap | None
    numbers: tuple[Tap, ...]
    misnamed: tuple[str, ...]


def _verdict(run: Run, moment: Moment, deeds: _Deeds, doubt: Doubt) -> Verdict:
    """The verdict; where something is doubtful, only what is right there counts."""
    certain = _certain(run, moment, deeds, doubt)
    found = _judged(run, moment, certain)
    why = doubt.said or doubt.answer
    if not why and (certain.tap != deeds.tap or not _answers(run)):
        why = doubt.call
    if found.word == "missed" and why:
        return replace(found, word="not perceived", unheard=why)
    if found.word == "missed":
        return replace(found, unheard=doubt.question)
    return replace(found, unheard=doubt.said)


def _certain(run: Run, moment: Moment, deeds: _Deeds, doubt: Doubt) -> _Deeds:
    """What is left of what was done without what may have been meant or put right otherwise."""
    tap, numbers, misnamed = deeds.tap, deeds.numbers, deeds.misnamed
    if tap is not None and tap.how == "voice" and (doubt.said or doubt.call):
        tap = tap if _timing_word(run, moment, tap) == "on time" else None
    if doubt.said or tap != deeds.tap:
        is_late = tap is None and _answer_word(run, moment, numbers) == "late"
        numbers = tuple(
            one
            for one in numbers
            if one.how == "key"
            or (not is_late and all(answer.right for answer in _given(run, moment, (one,))))
        )
        misnamed = ()
    return _Deeds(tap, numbers, misnamed)


def _judged(run: Run, moment: Moment, deeds: _Deeds) -> Verdict:
    """The verdict on what was done, all of it taken as it was."""
    given_there = _given(run, moment, deeds.numbers)
    found = Verdict(
        loop=moment.loop,
        name=moment.name,
        flight_s=moment.time_s,
        planned_s=moment.time_s / run.pace,
        word="missed",
        answers=given_there,
        misnamed=deeds.misnamed,
        **_tapped(run, moment, deeds.tap),
    )
    if deeds.tap is not None:
        timed: Timed | None = _timing_word(run, moment, deeds.tap)
    else:
        timed = _answer_word(run, moment, deeds.numbers)
    word: Word = timed or ("wrong" if deeds.misnamed else "missed")
    if found.wrong and (word == "on time" or found.answered):
        word = "wrong"
    return replace(found, word=word, timed=timed)


def _by_hand(found: Verdict, there: Flown | None) -> Verdict:
    """The verdict with what the hand did there; see `Word`.

    Args:
        found: on what was tapped and said.
        there: None where it was not seen: where nothing else was done either, it is not known.
    """
    if there is None:
        if found.word not in ("missed", "not perceived"):
            return found
        return replace(found, word="not perceived", unheard=(NOT_SEEN, *found.unheard))
    word: Word = "wrong" if there.word == "on time" and found.wrong else there.word
    return replace(found, word=word, flown=there)


def _given(run: Run, moment: Moment, numbers: Sequence[Tap]) -> tuple[Answer, ...]:
    return answers(moment, numbers, run.tolerances)


def _answers(run: Run) -> bool:
    """Whether the student answers questions in it."""
    return any(tap.hesitation_s is not None for tap in run.taps)


def _timing_word(run: Run, moment: Moment, tap: Tap) -> Timed:
    error = tap.time_s - moment.time_s / run.pace
    allowed = ON_TIME_S if tap.how == "key" else SAID_ON_TIME_S
    if abs(error) <= allowed or is_within(run, moment, tap.time_s * run.pace):
        return "on time"
    return "early" if error < 0.0 else "late"


def _answer_word(run: Run, moment: Moment, numbers: Sequence[Tap]) -> Timed | None:
    """Of the first number that answers the question: late once the checkpoint has come."""
    for one in numbers:
        if one.hesitation_s is not None:
            return "on time" if one.time_s <= moment.time_s / run.pace else "late"
    return None


def _tapped(run: Run, moment: Moment, tap: Tap | None) -> dict[str, Any]:
    """What a verdict says about its tap."""
    if tap is None:
        return {}
    there = off(run, moment, tap.time_s * run.pace)
    return {
        "tapped_s": tap.time_s,
        "how": tap.how,
        "error_s": tap.time_s - moment.time_s / run.pace,
        "share": share(run, moment, there),
        **vars(there),
    }


def _reactions(run: Run, verdicts: Sequence[Verdict]) -> int:
    """How many that are on time come so long after the coach's own tone as an answer to it does."""
    if run.support not in SUPPORTS or not SUPPORTS[run.support].tones:
        return 0
    return sum(
        verdict.word == "on time"
        and verdict.flown is None
        and (verdict.error_s or 0.0) >= REACTION_S
        for verdict in verdicts
    )


def score(run: Run) -> Score:
    """A run's score, judged anew."""
    return gauged(run).score


def scored(run: Summary) -> Score | None:
    """The score that is kept of a run, or that of a whole run not judged yet."""
    return score(run) if run.score is None and isinstance(run, Run) else run.score


def pace_words(pace: float) -> str:
    """``"at full pace"``, ``"at half pace"``, ``"at pace 0.75"``."""
    return {1.0: "at full pace", 0.5: "at half pace"}.get(pace, f"at pace {pace:g}")
