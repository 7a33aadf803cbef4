"""From a flight and a voice's measures to the cue sheet of one rehearsal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from coach.callouts.course import course
from coach.callouts.cuesheet import Cue, CueSheet, Measure, Phrase
from coach.callouts.placement import BREATH_S, Phrasing, Wanted, place
from coach.callouts.said import COUNT_FROM, Said, words
from coach.callouts.support import SUPPORTS, Support
from coach.flight.flight import Flight
from coach.problems import Problem
from coach.script.pace import LEAST, MOST

SLACK_S = 1.5
"""How far a control or number callout may move; a checkpoint's name stays where it is."""

COMMAND_AHEAD_S = 0.4
"""From the first sound of a command to the hand that follows it: 0.4 s for the muscles (FAA AC
90-48, from memory). What to do is understood from the word; one announced before needs no more."""

COMMAND_SLACK_S = 0.5
"""How much later a command may begin where something else is still being said."""

REACTION_S = 0.5
"""From the last word of a callout to the hand that does it: 0.4 s for the muscles (FAA AC 90-48,
from memory) and a little to understand; the words leave nothing to decide."""

THINKING_S = 1.0
"""From the end of a question to the first word of an answer: 0.6 s to name what one sees (Indefrey
and Levelt, Cognition 92 (2004) 101-144, from memory), and a guess of 0.4 s to recall a number."""

SECONDS_PER_WORD = 0.4
"""How long a caption stands when no voice has measured its phrase (150 words a minute)."""

TONE_S = 0.12
"""Length of a tone; the files in ``audio_cues/`` are about this long."""

TICK_S = 0.015
"""Length of a tick, as of its file in ``audio_cues/``."""

TICKS_BEFORE_S = (1.5, 1.0, 0.5)
"""How long before a checkpoint its ticks sound."""

_AFTER_START_S = 0.5
"""Nothing is said sooner after the start's tone."""

_LEAD_IN_S = 0.4
_TAIL_S = 1.0

Measuring = Callable[[Phrase], Measure]


def phrases(
    flight: Flight,
    *,
    support: Support = "everything",
    warnings: tuple[str, ...] = (),
    niner: bool = False,
) -> list[Phrase]:
    """Everything that could be said in one rehearsal, for the voice to make beforehand.

    Args:
        flight: the flight.
        support: how much the coach says.
        warnings: sentences of the brief that must be heard as well.
        niner: whether the digit nine is spoken "niner".
    """
    return words(flight, support, warnings, niner=niner).phrases


def cue_sheet(
    flight: Flight,
    measures: Mapping[Phrase, Measure],
    *,
    support: Support = "everything",
    pace: float = 1.0,
    warnings: tuple[str, ...] = (),
    niner: bool = False,
    ticks: bool = True,
) -> CueSheet:
    """The cue sheet of one rehearsal.

    Args:
        flight: the flight.
        measures: what the voice makes of each phrase; one that is missing is given the time a
            reader needs.
        support: how much the coach says, as for `phrases`.
        pace: seconds of flight in a second of the soundtrack, 0.5 to 1.5; speech, breaths and
            leads keep their own.
        warnings: as for `phrases`.
        niner: as for `phrases`.
        ticks: whether three ticks lead up to each checkpoint.

    Raises:
        Problem: the pace is out of bounds.
    """
    slowest, fastest = LEAST, MOST
    if not slowest <= pace <= fastest:
        raise Problem(f"Found a pace of {pace:g}, expected {slowest:g} to {fastest:g}.")

    def measure(phrase: Phrase) -> Measure:
        return measures.get(phrase) or _read(phrase)

    said = words(flight, support, warnings, niner=niner)
    cues: list[Cue] = []
    time = _LEAD_IN_S
    for phrase in said.introduction:
        cues.append(Cue(time, measure(phrase).length_s, phrase=phrase))
        time = cues[-1].end_s + 2.0 * BREATH_S
    start = time + 0.5 + COUNT_FROM
    for index, phrase in enumerate(said.count):
        cues.append(Cue(start - COUNT_FROM + index, measure(phrase).length_s, phrase=phrase))
    cues.append(Cue(start, TONE_S, tone="start"))
    if SUPPORTS[support].tones:
        marks = [start + moment.time_s / pace for moment in flight.moments]
        cues += _tones(start, marks, ticks=ticks)

    earliest = start + _AFTER_START_S
    wanted = [
        (one, _wanted(one, start + one.time_s / pace, earliest, measure)) for one in said.callouts
    ]
    wanted.sort(key=lambda pair: pair[1].phrasings[-1].start_s)
    dropped = []
    places = place([callout for _, callout in wanted], earliest_s=earliest)
    for (one, _), placed in zip(wanted, places, strict=True):
        if placed is None:
            dropped.append(f"{one.where}: no room for “{one.phrasings[-1].text}”")
            continue
        how = placed.phrasing
        cues.append(
            Cue(placed.start_s, how.length_s, how.phrase, moment=one.moment, gap_s=how.gap_s)
        )
    cues.sort(key=lambda cue: cue.start_s)
    over = max(start + flight.length_s / pace, max(cue.end_s for cue in cues)) + BREATH_S
    cues.append(Cue(over, TONE_S, tone="end"))
    length = over + TONE_S + _TAIL_S
    return CueSheet(
        cues=tuple(cues),
        dropped=tuple(dropped),
        flight_start_s=start,
        length_s=length,
        pace=pace,
        support=support,
        course=course(flight, start_s=start, length_s=length, pace=pace),
    )


def _tones(start: float, marks: list[float], *, ticks: bool) -> Iterator[Cue]:
    """A tone on every checkpoint's very moment, and the ticks that have room before it."""
    before = start
    for index, mark in enumerate(marks):
        first, second = TICKS_BEFORE_S[:2]
        # A tick as close to the mark before as to the next tick would be heard as part of that.
        if ticks and mark - before >= first + (first - second):
            for lead in TICKS_BEFORE_S:
                yield Cue(mark - lead, TICK_S, tone="tick", moment=index)
        yield Cue(mark, TONE_S, tone="checkpoint", moment=index)
        before = mark


def _wanted(one: Said, at: float, earliest: float, measure: Measuring) -> Wanted:
    """Where each phrasing of a callout belongs, and how far it may move from there.

    Args:
        one: the callout.
        at: its moment on the soundtrack.
        earliest: nothing starts before this; a command at the tone itself is given then.
        measure: what the voice makes of a phrase.
    """

    def phrasing(phrase: Phrase) -> Phrasing:
        measured = measure(phrase)
        length = measured.length_s
        if one.kind == "checkpoint":
            return Phrasing(phrase, at - one.lead_s - measured.lands_s, length)
        if one.kind == "command":
            begins = max(at - one.lead_s - COMMAND_AHEAD_S, earliest)
            return Phrasing(phrase, begins, length, later_s=COMMAND_SLACK_S)
        if one.kind == "question":
            answers = [measure(answer) for answer in one.answers]
            gap = THINKING_S + answers[0].length_s
            answered = at - max(answer.lands_s for answer in answers)
            return Phrasing(phrase, answered - gap - length, length, SLACK_S, gap_s=gap)
        if one.lead_s:
            # Over before its moment, in time for the hand.
            needed = length + REACTION_S
            lead = max(one.lead_s, needed)
            return Phrasing(phrase, at - lead, length, SLACK_S, lead - needed)
        return Phrasing(phrase, at, length, SLACK_S, SLACK_S)

    return Wanted(one.kind, tuple(phrasing(phrase) for phrase in one.phrasings))


def _read(phrase: Phrase) -> Measure:
    """The time that a reader needs."""
    before = phrase.spoken.partition(phrase.lands)[0] if phrase.lands else ""
    return Measure(
        SECONDS_PER_WORD * len(phrase.spoken.split()), SECONDS_PER_WORD * len(before.split())
    )
