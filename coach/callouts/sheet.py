"""From a flight and a voice's measures to the cue sheet of one rehearsal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from coach.callouts.course import course
from coach.callouts.cuesheet import Cue, CueSheet, Measure, Phrase
from coach.callouts.placement import BREATH_S, Phrasing, Question, Wanted
from coach.callouts.room import Kept, kept
from coach.callouts.said import COUNT_FROM, Said, introduction, words
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

ROOM_S = 1.2
"""Silence after a checkpoint's name and what is said with it, in which the student calls it out (a
choice of ours: time to begin, and a word)."""

SECONDS_PER_WORD = 0.4
"""How long a caption stands when no voice has measured its phrase (150 words a minute)."""

LEAD_IN_S = 0.2
"""Silence before the first word. A device that is opened meanwhile plays silence for longer."""

TONE_S = 0.12
"""Length of a tone; the files in ``audio_cues/`` are about this long."""

TICK_S = 0.015
"""Length of a tick, as of its file in ``audio_cues/``."""

TICKS_BEFORE_S = (1.5, 1.0, 0.5)
"""How long before a checkpoint its ticks sound."""

_UNASKED = 8
"""Steps down to not asking at all: rather than that several are asked for less."""

_AFTER_START_S = 0.5
"""Nothing is said sooner after the start's tone."""

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
    begun = opening(flight, measures, support=support, pace=pace, warnings=warnings, niner=niner)

    def measure(phrase: Phrase) -> Measure:
        return measures.get(phrase) or _read(phrase)

    said = words(flight, support, warnings, niner=niner)
    cues, start = list(begun.cues), begun.flight_start_s
    for index, phrase in enumerate(said.count):
        cues.append(Cue(start - COUNT_FROM + index, measure(phrase).length_s, phrase=phrase))
    cues.append(Cue(start, TONE_S, tone="start"))
    if SUPPORTS[support].tones:
        marks = [start + moment.time_s / pace for moment in flight.moments]
        cues += _tones(start, marks, ticks=ticks)

    earliest = start + _AFTER_START_S
    answers = not SUPPORTS[support].asks
    wanted = [
        (one, _wanted(one, start + one.time_s / pace, earliest, measure, room=answers))
        for one in said.callouts
    ]
    wanted.sort(key=lambda pair: pair[1].phrasings[-1].start_s)
    loops = [(start + begin / pace, start + end / pace) for begin, end in flight.loops]
    dropped = []
    for one in kept(wanted, earliest, loops):
        new, without = _said(one)
        cues += new
        if without is not None:
            why = "no room for" if one.crowded else "to leave you room, without"
            dropped.append(f"{one.said.where}: {why} “{without.text}”")
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


def _said(one: Kept) -> tuple[list[Cue], Phrase | None]:
    """The cues of a callout as it came out, and what is not said of it."""
    said, placed = one.said, one.placed
    if placed is None or one.number is None:
        return [], said.phrasings[-1]
    how = placed.phrasing
    cues = [Cue(placed.start_s, how.length_s, how.phrase, moment=said.moment)]
    if how.question is None:
        shortest = [question for question in said.questions if question]
        return cues, shortest[-1].phrase if shortest else None
    question, asked = how.question, said.questions[one.number]
    over_s = placed.begins_s + question.length_s
    gap_s = placed.start_s - over_s
    cues.append(
        Cue(
            placed.begins_s,
            question.length_s,
            question.phrase,
            moment=said.moment,
            gap_s=gap_s,
            asks=asked.asks if asked else (),
        )
    )
    return cues, None


def opening(
    flight: Flight,
    measures: Mapping[Phrase, Measure],
    *,
    support: Support = "everything",
    pace: float = 1.0,
    warnings: tuple[str, ...] = (),
    niner: bool = False,
) -> CueSheet:
    """How the sheet of `cue_sheet` begins: the introduction, up to the silence before the count-in.

    It needs what a voice makes of the introduction and of nothing else.

    Raises:
        Problem: the pace is out of bounds.
    """
    slowest, fastest = LEAST, MOST
    if not slowest <= pace <= fastest:
        raise Problem(f"Found a pace of {pace:g}, expected {slowest:g} to {fastest:g}.")
    cues: list[Cue] = []
    time = LEAD_IN_S
    for phrase in introduction(flight, warnings, niner=niner):
        length = (measures.get(phrase) or _read(phrase)).length_s
        cues.append(Cue(time, length, phrase=phrase))
        time = cues[-1].end_s + 2.0 * BREATH_S
    start = time + 0.5 + COUNT_FROM
    return CueSheet(
        cues=tuple(cues),
        dropped=(),
        flight_start_s=start,
        length_s=time,
        pace=pace,
        support=support,
        course=course(flight, start_s=start, length_s=time, pace=pace),
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


def _wanted(one: Said, at: float, earliest: float, measure: Measuring, *, room: bool) -> Wanted:
    """Where each phrasing of a callout belongs, and how far it may move from there.

    Args:
        one: the callout.
        at: its moment on the soundtrack.
        earliest: nothing starts before this; a command at the tone itself is given then.
        measure: what the voice makes of a phrase.
        room: whether the student calls out each checkpoint behind its name.
    """

    def phrasing(number: int, phrase: Phrase) -> Phrasing:
        measured = measure(phrase)
        length = measured.length_s
        if one.kind == "checkpoint":
            begins = at - one.lead_s - measured.lands_s
            asked = one.questions[number] if one.questions else None
            down = number if asked or not one.questions else number + _UNASKED
            question = None
            if asked:
                asking = measure(asked.phrase).length_s
                latest = begins - THINKING_S - length - asking
                question = Question(asked.phrase, latest, asking, SLACK_S)
            gap_s = ROOM_S if room else 0.0
            return Phrasing(phrase, begins, length, gap_s=gap_s, down=down, question=question)
        if one.kind == "command":
            begins = max(at - one.lead_s - COMMAND_AHEAD_S, earliest)
            return Phrasing(phrase, begins, length, later_s=COMMAND_SLACK_S, down=number)
        if one.lead_s:
            # Over before its moment, in time for the hand.
            needed = length + REACTION_S
            lead = max(one.lead_s, needed)
            return Phrasing(phrase, at - lead, length, SLACK_S, lead - needed, down=number)
        return Phrasing(phrase, at, length, SLACK_S, SLACK_S, down=number)

    kind = "safety" if one.is_safety else one.kind
    return Wanted(kind, tuple(phrasing(*each) for each in enumerate(one.phrasings)))


def _read(phrase: Phrase) -> Measure:
    """The time that a reader needs."""
    before = phrase.spoken.partition(phrase.lands)[0] if phrase.lands else ""
    return Measure(
        SECONDS_PER_WORD * len(phrase.spoken.split()), SECONDS_PER_WORD * len(before.split())
    )
