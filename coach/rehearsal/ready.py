"""Everything a run needs, made ready before it begins: flown, worded, spoken and placed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coach.brief.warnings import warnings
from coach.callouts.cuesheet import CueSheet
from coach.callouts.replies import Wrong, replies
from coach.callouts.sheet import cue_sheet, phrases
from coach.callouts.support import SUPPORTS, Support
from coach.debrief.next_run import next_support
from coach.flight import airplane as airplanes
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.logbook.logbook import Logbook
from coach.practice.judging import recent
from coach.script import catalog
from coach.settings import USUAL, Settings
from coach.sound import landing
from coach.sound.clip import Clip
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.voices import speak


@dataclass(frozen=True)
class Rehearsal:
    """Everything a run needs, ready before it begins.

    Attributes:
        flight: how it is flown.
        day: what was asked for, in the student's words.
        sheet: what is said when.
        soundtrack: the same as samples.
        replies: what the coach says to an answer, where it asks, by what is wrong with it.
        note: one sentence when another voice stood in, or phrases could not be spoken.
    """

    flight: Flight
    day: dict[str, str]
    sheet: CueSheet
    soundtrack: Soundtrack
    note: str | None
    replies: Mapping[Wrong, Clip] = field(default_factory=dict)


def fly(maneuver: str, airplane: str, day: Day) -> Flight:
    """The flight of a maneuver, by the names of its script and its airplane.

    Raises:
        Problem: a script or a value is at fault, or the maneuver cannot be flown.
    """
    script, plane = catalog.maneuver(maneuver), airplanes.load(airplane)
    return plan(script, plane, conditions(day, script, plane))


def support_for(
    settings: Settings, logbook: Logbook, maneuver: str, student: str
) -> tuple[Support, str]:
    """How much the coach shall say, and one sentence why where the student's runs decide it."""
    if settings.support != "auto":
        return settings.support, ""
    return next_support(recent(logbook, maneuver, student))


def support_without_runs(settings: Settings) -> Support:
    """How much it shall say where there is no student whose runs could decide."""
    return "everything" if settings.support == "auto" else settings.support


def prepare(
    flight: Flight,
    day: Day,
    settings: Settings = USUAL,
    *,
    support: Support | None = None,
    pace: float = 1.0,
) -> Rehearsal:
    """Every phrase spoken, measured and placed; what is mixed is rendered as it is heard.

    Args:
        flight: from `fly`.
        day: what was asked for.
        settings: the voice and the sounds.
        support: how much the coach says; None for `support_without_runs`.
        pace: 1 is the airplane's own tempo, 0.5 half of it.

    Raises:
        Problem: a choice that cannot be, such as a voice that this machine does not have.
    """
    support = support or support_without_runs(settings)
    heard = warnings(flight)
    asks = SUPPORTS[support].asks
    answers = replies(flight, niner=settings.niner) if asks else {}
    wanted = phrases(flight, support=support, warnings=heard, niner=settings.niner)
    spoken = speak(
        [phrase.spoken for phrase in (*answers.values(), *wanted)] + landing.words(wanted),
        voice=settings.voice or None,
        words_per_minute=settings.rate,
    )
    sheet = cue_sheet(
        flight,
        landing.measures(wanted, spoken.clips),
        support=support,
        pace=pace,
        warnings=heard,
        niner=settings.niner,
        ticks=settings.levels["ticks"] > 0.0,
    )
    given = {name: str(value) for name, value in vars(day).items() if value is not None}
    soundtrack = mix(sheet, spoken.clips, settings.levels)
    said = {
        wrong: spoken.clips[phrase.spoken]
        for wrong, phrase in answers.items()
        if phrase.spoken in spoken.clips
    }
    return Rehearsal(flight, given, sheet, soundtrack, spoken.note, said)
