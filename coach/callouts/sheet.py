"""From a flight and its script to the cue sheet: introduction, count-in, callouts and tones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from coach.callouts.cuesheet import Cue, CueSheet, Phrase
from coach.callouts.placement import BREATH_S, Wanted, place
from coach.callouts.wording import render, say_number, values
from coach.flight.flight import Flight
from coach.script.maneuver import Callout

SLACK_S = 1.5
"""How far a control or number callout may move; a checkpoint's name stays where it is."""

COUNT_FROM = 3
"""The count-in: this many numbers, a second apart."""

SECONDS_PER_WORD = 0.4
"""How long a caption stands when no voice has measured its phrase (150 words a minute)."""

TONE_S = 0.12
"""Length of a tone; the files in ``audio_cues/`` are about this long."""

_LEAD_IN_S = 0.4
_TAIL_S = 1.0


def phrases(flight: Flight, warnings: tuple[str, ...] = ()) -> list[Phrase]:
    """Everything that could be said in one rehearsal, for the voice to make beforehand.

    Args:
        flight: the flight.
        warnings: sentences of the brief that must be heard as well.
    """
    said = [*_introduction(flight, warnings), *_counts()]
    said += [phrase for _, _, options in _callouts(flight) for phrase in options]
    return list(dict.fromkeys(said))


def cue_sheet(
    flight: Flight, lengths_s: Mapping[str, float], warnings: tuple[str, ...] = ()
) -> CueSheet:
    """The cue sheet of one rehearsal.

    Args:
        flight: the flight.
        lengths_s: seconds that the voice takes for each phrase's ``spoken`` words; a phrase that is
            missing is given the time a reader needs.
        warnings: as for `phrases`.
    """

    def length(phrase: Phrase) -> float:
        estimate = SECONDS_PER_WORD * len(phrase.spoken.split())
        return lengths_s.get(phrase.spoken, estimate)

    cues: list[Cue] = []
    time = _LEAD_IN_S
    for phrase in _introduction(flight, warnings):
        cues.append(Cue(time, length(phrase), phrase=phrase))
        time += length(phrase) + 2.0 * BREATH_S
    counts = _counts()
    spoken_until = time + 0.5
    start = spoken_until + COUNT_FROM
    cues += [
        Cue(start - COUNT_FROM + index, length(phrase), phrase=phrase)
        for index, phrase in enumerate(counts)
    ]
    # The start and each checkpoint are tones on their very moment.
    cues.append(Cue(start, TONE_S, tone="start"))
    cues += [Cue(start + moment.time_s, TONE_S, tone="checkpoint") for moment in flight.moments]

    wanted = [
        Wanted(
            start_s=start + when - callout.lead,
            slack_s=0.0 if callout.kind == "checkpoint" else SLACK_S,
            kind=callout.kind,
            phrasings=options,
            lengths_s=tuple(length(option) for option in options),
            where=where,
        )
        for (when, where), callout, options in _callouts(flight)
    ]
    wanted.sort(key=lambda one: one.start_s)
    placed = place(wanted, earliest_s=start + 0.5)
    cues += [
        Cue(one.start_s, one.wanted.lengths_s[one.phrasing], one.wanted.phrasings[one.phrasing])
        for one in placed
    ]
    said = {id(one.wanted) for one in placed}
    dropped = tuple(
        f"{one.where}: no room for “{one.phrasings[-1].text}”"
        for one in wanted
        if id(one) not in said
    )
    over = max(start + flight.length_s, max(cue.end_s for cue in cues)) + BREATH_S
    cues.append(Cue(over, TONE_S, tone="end"))
    cues.sort(key=lambda cue: cue.start_s)
    return CueSheet(tuple(cues), dropped, start, over + TONE_S + _TAIL_S)


def _introduction(flight: Flight, warnings: tuple[str, ...]) -> list[Phrase]:
    known = values(flight, flight.moment(0.0, 1, "start"))
    spoken = [render(phrasing, known) for phrasing in flight.maneuver.introduction]
    return spoken[:1] + [Phrase(line, line) for line in warnings] + spoken[1:]


def _counts() -> list[Phrase]:
    return [Phrase(str(n), say_number(n).capitalize()) for n in range(COUNT_FROM, 0, -1)]


def _callouts(
    flight: Flight,
) -> Iterator[tuple[tuple[float, str], Callout, tuple[Phrase, ...]]]:
    """Every callout of every loop: its moment and what that is, and its phrasings filled in."""
    for loop in range(1, len(flight.sides) + 1):
        last = loop == len(flight.sides)
        which = "last" if last else (loop - 1) % len(flight.maneuver.sides) + 1
        for callout in flight.maneuver.callouts:
            when = flight.when(callout.at, loop)
            if when is None or (callout.loops and which not in callout.loops):
                continue
            name = callout.at.checkpoint or ""
            known = values(flight, flight.moment(when, loop, name))
            options = tuple(dict.fromkeys(render(one, known) for one in callout.say))
            at = callout.at
            what = at.checkpoint or at.leg or "on the way"
            yield (when, f"loop {loop}, {what}"), callout, options
