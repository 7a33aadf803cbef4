"""One rehearsal from end to end: the rooms composed, and the run itself."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from coach.brief.board import warnings
from coach.callouts.cuesheet import CueSheet, Support
from coach.callouts.sheet import cue_sheet, phrases
from coach.flight import airplane as airplanes
from coach.flight.day import Day, conditions
from coach.flight.flight import Flight
from coach.flight.plan import plan
from coach.logbook.logbook import Logbook
from coach.logbook.run import TRACE_COLUMNS, Ending, Run
from coach.script import catalog
from coach.settings import Settings
from coach.sound import landing
from coach.sound.bed import LEVELS
from coach.sound.outputs import open_player
from coach.sound.player import Player
from coach.sound.soundtrack import Soundtrack, mix
from coach.sound.voices import WORDS_PER_MINUTE, speak
from coach.terminal.keys import Press

FRAME_S = 1.0 / 15.0
"""How often the screen is drawn anew."""

EARLIEST_TAP_S = -1.0
"""A tap longer before the first moment belongs to the count-in, not to the run."""


@dataclass(frozen=True)
class Choices:
    """How a rehearsal is spoken and heard.

    Attributes:
        support: how much the coach says.
        pace: 1 is the airplane's own tempo, 0.5 half of it.
        voice: its name; None for the machine's own.
        words_per_minute: how fast it speaks.
        niner: whether the digit nine is spoken "niner".
        levels: how loud each part of the airplane is heard, 0 to 1.
    """

    support: Support = "everything"
    pace: float = 1.0
    voice: str | None = None
    words_per_minute: int = WORDS_PER_MINUTE
    niner: bool = False
    levels: Mapping[str, float] = field(default_factory=lambda: LEVELS)

    @classmethod
    def of(cls, settings: Settings, support: Support, pace: float) -> Choices:
        """What the settings say, at this support and pace."""
        return cls(
            support, pace, settings.voice or None, settings.rate, settings.niner, settings.levels
        )


@dataclass(frozen=True)
class Rehearsal:
    """Everything a run needs, ready before it begins.

    Attributes:
        flight: how it is flown.
        day: what was asked for, in the student's words.
        sheet: what is said when.
        soundtrack: the same as samples.
        note: one sentence when another voice stood in, or phrases could not be spoken.
    """

    flight: Flight
    day: dict[str, str]
    sheet: CueSheet
    soundtrack: Soundtrack
    note: str | None


def fly(maneuver: str, airplane: str, day: Day) -> Flight:
    """The flight of a maneuver, by the names of its script and its airplane.

    Raises:
        Problem: a script or a value is at fault, or the maneuver cannot be flown.
    """
    script, plane = catalog.maneuver(maneuver), airplanes.load(airplane)
    return plan(script, plane, conditions(day, script, plane))


def support(
    settings: Settings, logbook: Logbook, maneuver: str, student: str
) -> tuple[Support, str]:
    """How much the coach shall say, and one sentence why where the student's runs decide it."""
    if settings.support != "auto":
        return settings.support, ""
    from coach.debrief.support import next_support

    return next_support(logbook.runs_of(maneuver, student))


def prepare(flight: Flight, day: Day, choices: Choices = Choices()) -> Rehearsal:
    """Every phrase spoken, measured and placed; what is mixed is rendered as it is heard.

    Raises:
        Problem: a choice that cannot be, such as a voice that this machine does not have.
    """
    heard = warnings(flight)
    wanted = phrases(flight, support=choices.support, warnings=heard, niner=choices.niner)
    spoken = speak(
        [phrase.spoken for phrase in wanted] + landing.words(wanted),
        voice=choices.voice,
        words_per_minute=choices.words_per_minute,
    )
    sheet = cue_sheet(
        flight,
        landing.measures(wanted, spoken.clips),
        support=choices.support,
        pace=choices.pace,
        warnings=heard,
        niner=choices.niner,
        ticks=choices.levels["ticks"] > 0.0,
    )
    given = {name: str(value) for name, value in vars(day).items() if value is not None}
    soundtrack = mix(sheet, spoken.clips, choices.levels)
    return Rehearsal(flight, given, sheet, soundtrack, spoken.note)


class Hand(Protocol):
    """Where key presses come from: `coach.terminal.keys.Keys`, or anything alike."""

    def presses(self) -> list[Press]:
        """What was pressed since the last call, each with its time on `time.perf_counter`."""


@dataclass
class Progress:
    """Where a run stands, for whoever shows it.

    Attributes:
        position_s: what is heard now, on the soundtrack.
        taps_s: taps so far, seconds on the flight's clock.
        paused: the student has paused it, or the sound device is gone.
        finished: the last moment is over.
        message: one sentence to the student, or an empty text.
    """

    position_s: float = 0.0
    taps_s: list[float] = field(default_factory=list)
    paused: bool = False
    finished: bool = False
    message: str = ""


@dataclass(frozen=True)
class Done:
    """How a run ended.

    Attributes:
        number: in the logbook, of the last run that came to its first moment, which is an earlier
            attempt where the student started over and stopped at once; None when none did.
        note: one sentence on what went wrong with the sound, or an empty text.
    """

    number: int | None
    note: str


def run(
    rehearsal: Rehearsal,
    hand: Hand,
    logbook: Logbook,
    show: Callable[[Progress], None],
    *,
    output: str | None = None,
    student: str = "",
) -> Done:
    """Play a rehearsal, take the taps, and keep the run as it goes.

    The keys are space to tap, p to pause and go on, r to start over and q to stop. Starting over
    ends the run in the logbook and begins another one. A program that was halted (Ctrl-Z) comes
    back paused.

    Args:
        rehearsal: from `prepare`.
        hand: the keys.
        logbook: where the run is kept, from its first moment on.
        show: called about fifteen times a second with where the run stands.
        output: the sound device's name, or None for the usual one.
        student: whose run it is.

    Raises:
        Problem: the sound device is unknown.
    """
    keeper = _Keeper(rehearsal, logbook, student)
    player = open_player(rehearsal.soundtrack, output)
    progress = Progress()
    player.start()
    try:
        while not progress.finished:
            for press in hand.presses():
                if press.key == "space" and not player.paused:
                    tap = rehearsal.sheet.flight_s(player.position_s(press.at))
                    if tap >= EARLIEST_TAP_S:
                        progress.taps_s.append(tap)
                        keeper.tap(tap)
                elif press.key == "p" or (press.key == "ctrl-z" and not player.paused):
                    (player.resume if player.paused else player.pause)()
                elif press.key == "r":
                    keeper.end("stopped", progress.position_s)
                    progress.taps_s.clear()
                    player.restart()
                elif press.key in ("q", "ctrl-c"):
                    return Done(keeper.end("stopped", progress.position_s), _noise(player))
                elif press.key == "closed":
                    return Done(keeper.end("interrupted", progress.position_s), _noise(player))
            progress.position_s = player.position_s()
            progress.message = player.note or rehearsal.note or ""
            progress.paused = player.paused
            progress.finished = player.finished
            keeper.reached(progress.position_s)
            show(progress)
            time.sleep(FRAME_S)
        return Done(keeper.end("finished", progress.position_s), _noise(player))
    finally:
        player.stop()
        keeper.end("interrupted", progress.position_s)


def _noise(player: Player) -> str:
    if not player.underruns:
        return ""
    times = "once" if player.underruns == 1 else f"{player.underruns} times"
    return f"The sound ran dry {times}: this machine was busy with something else."


class _Keeper:
    """The run in the logbook: begun with its first moment or tap, written to as it goes."""

    def __init__(self, rehearsal: Rehearsal, logbook: Logbook, student: str) -> None:
        self.rehearsal = rehearsal
        self.logbook = logbook
        self.student = student
        self.number: int | None = None
        self.last: int | None = None
        self.noted = 0.0
        # Since the last start: starting over begins a run of its own only once it is back there.
        self.counted_in = False

    def tap(self, time_s: float) -> None:
        self.logbook.tap(self._begun(), time_s)

    def reached(self, position_s: float) -> None:
        """Note about once a second how far the run has come."""
        flown = self.rehearsal.sheet.flight_s(position_s)
        self.counted_in = self.counted_in or flown <= 0.0
        if self.number is None and not self.counted_in:
            return
        if flown > 0.0 and (self.number is None or abs(flown - self.noted) >= 1.0):
            self.logbook.reached(self._begun(), flown)
            self.noted = flown

    def end(self, ending: Ending, position_s: float) -> int | None:
        """Close the run, if one was begun; the number of the last one that was."""
        number, self.number = self.number, None
        self.counted_in = False
        if number is not None:
            flown = self.rehearsal.sheet.flight_s(position_s)
            self.logbook.end(number, ending, min(flown, self.rehearsal.flight.length_s))
            self.last = number
        return self.last

    def _begun(self) -> int:
        if self.number is None:
            self.number = self.logbook.begin(_new_run(self.rehearsal, self.student))
            self.noted = 0.0
        return self.number


def _new_run(rehearsal: Rehearsal, student: str) -> Run:
    flight = rehearsal.flight
    table = flight.table(2.0)
    return Run(
        student=student,
        maneuver=flight.maneuver.maneuver,
        title=flight.maneuver.title,
        airplane=flight.airplane.title,
        day=rehearsal.day,
        started=datetime.now().astimezone(),
        pace=rehearsal.sheet.pace,
        support=rehearsal.sheet.support,
        moments=flight.moments,
        trace={name: table[name].tolist() for name in TRACE_COLUMNS},
    )
