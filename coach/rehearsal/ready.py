"""Everything a run needs, made ready before it begins: flown, worded, spoken and placed."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field

from coach.brief.warnings import warnings
from coach.callouts.cuesheet import CueSheet
from coach.callouts.replies import Wrong, replies
from coach.callouts.said import introduction
from coach.callouts.sheet import cue_sheet, opening, phrases
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
from coach.script.standards import tolerances
from coach.script.tolerance import Tolerance
from coach.settings import USUAL, Settings
from coach.sound import landing
from coach.sound.clip import Clip
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.voices import Narrator


@dataclass(frozen=True)
class Rehearsal:
    """Everything a run needs, ready before it begins.

    Attributes:
        flight: how it is flown.
        day: what was asked for, in the student's words.
        sheet: what is said when.
        soundtrack: the same as samples.
        replies: what the coach says to an answer, where it asks, by what is wrong with it.
        tolerances: what the student is judged by, at the checkride of the settings.
        note: one sentence when another voice stood in, or phrases could not be spoken.
        rest: where this is but the opening, up to the silence before the count-in: what becomes the
            whole of it, which begins with the same sounds.
    """

    flight: Flight
    day: dict[str, str]
    sheet: CueSheet
    soundtrack: Soundtrack
    note: str | None
    replies: Mapping[Wrong, Clip] = field(default_factory=dict)
    rest: Future[Rehearsal] | None = None
    tolerances: tuple[Tolerance, ...] = ()


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
    with Preparation(settings) as preparation:
        return preparation.whole(flight, day, support=support, pace=pace)


class Preparation:
    """A rehearsal being made ready: its opening first, the rest while that is heard."""

    def __init__(self, settings: Settings = USUAL) -> None:
        """Choose the voice.

        Raises:
            Problem: the settings cannot be.
        """
        self._settings = settings
        self._narrator = Narrator(settings.voice or None, settings.rate)
        self._rest: Future[Rehearsal] | None = None

    def wake(self) -> None:
        """Have the voice get ready, while its words are not known yet."""
        self._narrator.wake()

    def opening(
        self, flight: Flight, day: Day, *, support: Support | None = None, pace: float = 1.0
    ) -> Rehearsal:
        """What is heard first; its ``rest`` is made beside everything else. As for `prepare`."""
        support = support or support_without_runs(self._settings)
        heard, niner = warnings(flight), self._settings.niner
        said = introduction(flight, heard, niner=niner)
        spoken = self._narrator.speak([phrase.spoken for phrase in said])
        sheet = opening(
            flight,
            landing.measures(said, spoken.clips),
            support=support,
            pace=pace,
            warnings=heard,
            niner=niner,
        )
        soundtrack = mix(sheet, spoken.clips, self._settings.levels, whole=False)
        beside = ThreadPoolExecutor(1)
        self._rest = beside.submit(self._rest_of, flight, day, support, pace)
        beside.shutdown(wait=False)  # its thread ends with that
        return Rehearsal(flight, _given(day), sheet, soundtrack, spoken.note, rest=self._rest)

    def whole(
        self, flight: Flight, day: Day, *, support: Support | None = None, pace: float = 1.0
    ) -> Rehearsal:
        """All of it, as for `prepare`; where its opening was made before, with the same sounds."""
        settings = self._settings
        support = support or support_without_runs(settings)
        heard = warnings(flight)
        answers = replies(flight, niner=settings.niner) if SUPPORTS[support].asks else {}
        wanted = phrases(flight, support=support, warnings=heard, niner=settings.niner)
        spoken = self._narrator.speak(
            [phrase.spoken for phrase in (*answers.values(), *wanted)] + landing.words(wanted)
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
        said = {
            wrong: spoken.clips[phrase.spoken]
            for wrong, phrase in answers.items()
            if phrase.spoken in spoken.clips
        }
        soundtrack = mix(sheet, spoken.clips, settings.levels)
        return Rehearsal(
            flight,
            _given(day),
            sheet,
            soundtrack,
            spoken.note,
            said,
            tolerances=tolerances(flight.maneuver.standard, settings.asked_at),
        )

    def _rest_of(self, flight: Flight, day: Day, support: Support, pace: float) -> Rehearsal:
        with self._narrator:
            return self.whole(flight, day, support=support, pace=pace)

    def __enter__(self) -> Preparation:
        return self

    def __exit__(self, *_: object) -> None:
        """Give up what nobody waits for any more, and leave nothing behind."""
        self._narrator.give_up()
        if self._rest is not None:
            wait([self._rest])
        self._narrator.close()


def _given(day: Day) -> dict[str, str]:
    return {name: str(value) for name, value in vars(day).items() if value is not None}
