"""The run itself: a rehearsal is heard, the students tap, and all of it is kept as it goes."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from coach.logbook.logbook import Logbook
from coach.logbook.run import Ending
from coach.rehearsal.attempt import EARLIEST_TAP_S, Keeper
from coach.rehearsal.listening import Listening
from coach.rehearsal.ready import Rehearsal
from coach.sound.outputs import open_player
from coach.sound.player import Player
from coach.taps.pressing import ALONE, Hands
from coach.taps.tap import Tap
from coach.terminal.keys import Press

FRAME_S = 1.0 / 15.0
"""How often the screen is drawn anew."""

NOTE_S = 10.0
"""So far into the flight what was to be said before it is still shown."""

HEAR_OUT_S = 8.0
"""The most that a finished run waits for what was said at its end to be understood: on a machine
that has much else to do, the recogniser is seconds behind."""

_KEYS = {"pause": "p", "go on": "p", "start over": "r", "stop": "q"}
"""What a student may say after "coach", and the key that does the same."""


class Hand(Protocol):
    """Where key presses come from: `coach.terminal.keys.Keys`, or anything alike."""

    def presses(self) -> list[Press]:
        """What was pressed since the last call, each with its time on `time.perf_counter`."""


@dataclass
class Progress:
    """Where a run stands, for whoever shows it.

    Attributes:
        position_s: what is heard now, on the soundtrack.
        taps: what each student did so far.
        paused: the student has paused it, or the sound device is gone.
        finished: the last moment is over.
        message: one sentence to the student, or an empty text.
    """

    position_s: float = 0.0
    taps: dict[str, list[Tap]] = field(default_factory=dict)
    paused: bool = False
    finished: bool = False
    message: str = ""


@dataclass(frozen=True)
class Done:
    """How a run ended.

    Attributes:
        finished: whether it was flown to its end.
        numbers: in the logbook, of each student's last run that came to its first moment, which is
            an earlier attempt where they started over and stopped at once.
        note: one sentence on what went wrong with the sound, or an empty text.
        left: the student wants nothing more (Ctrl-C), or the terminal is gone.
    """

    finished: bool
    numbers: tuple[int, ...]
    note: str
    left: bool = False


def run(
    rehearsal: Rehearsal,
    hand: Hand,
    logbook: Logbook,
    show: Callable[[Progress], None],
    *,
    output: str | None = None,
    students: Mapping[str, str] | None = None,
    listen: Callable[[Player], Listening] | None = None,
) -> Done:
    """Play a rehearsal, take the taps, and keep the run as it goes.

    The keys are those of the students to tap, p to pause and go on, r to start over and q to stop;
    a student alone at the keyboard may type numbers, and one who is heard may say "coach pause",
    "coach go on", "coach start over" and "coach stop". Starting over ends the run in the logbook
    and begins another one. A program that was halted (Ctrl-Z) comes back paused. A tap is kept with
    the student's own offset on this device taken off.

    Args:
        rehearsal: from `coach.rehearsal.ready.prepare`.
        hand: the keys.
        logbook: where the run is kept, from its first moment on.
        show: called about fifteen times a second with where the run stands.
        output: the sound device's name, or None for the usual one.
        students: each one's name by key; None for a student without a name at the space bar.
        listen: opens the coach's ears for a student who is alone; v is then the talk key.

    Raises:
        Problem: the sound device is unknown.
    """
    keys = students or {ALONE: ""}
    player = open_player(rehearsal.soundtrack, output)
    running = _Running(rehearsal, logbook, player, keys)
    running.listening = listen(player) if listen is not None else None
    ending: Ending = "interrupted"
    player.start()
    try:
        while not running.progress.finished and ending == "interrupted":
            # Before the keys are read: what is certain by now must have been read.
            now = time.perf_counter()
            for press in [*hand.presses(), *running.ordered(now)]:
                if press.key == "r":
                    running.start_over()
                elif press.key == "p" or (press.key == "ctrl-z" and not player.paused):
                    (player.resume if player.paused else player.pause)()
                elif press.key in ("q", "ctrl-c"):
                    ending, running.left = "stopped", press.key == "ctrl-c"
                    break
                elif press.key == "closed":
                    running.left = True
                    return running.done()
                elif press.key == "v" and running.listening is not None:
                    running.listening.push()
                elif not player.paused:
                    running.hands.press(press.key, press.at)
            running.go_on(now)
            show(running.progress)
            time.sleep(FRAME_S)
        running.hear_out()
        # A press of the last moment becomes a tap a little later.
        running.take(time.perf_counter() + 1.0)
        running.end("finished" if running.progress.finished else ending)
        return running.done()
    finally:
        player.stop()
        running.end("interrupted")


class _Running:
    """A run and everybody who flies it."""

    def __init__(
        self, rehearsal: Rehearsal, logbook: Logbook, player: Player, keys: Mapping[str, str]
    ) -> None:
        self.rehearsal = rehearsal
        self.logbook = logbook
        self.player = player
        self.hands = Hands(keys, numbers=len(keys) == 1)
        self.progress = Progress(taps={name: [] for name in keys.values()})
        self.keepers = {name: Keeper(rehearsal, logbook, name) for name in keys.values()}
        self.listening: Listening | None = None
        self.left = False
        self._going_back = False

    def go_on(self, now: float) -> None:
        """Take what was certainly tapped by ``now`` and note how far the run has come."""
        self.take(now)
        self.progress.position_s = self.player.position_s()
        heard = self.listening.note if self.listening is not None else ""
        first = self.rehearsal.note if self._flown_s < NOTE_S else None
        self.progress.message = self.player.note or heard or first or ""
        self.progress.paused = self.player.paused
        self.progress.finished = self.player.finished
        self._going_back = self._going_back and self._flown_s > 0.0
        for keeper in self.keepers.values():
            keeper.reached(self._flown_s)

    def ordered(self, now: float) -> list[Press]:
        """The student's spoken orders, as the keys that do the same."""
        orders = self.listening.orders() if self.listening is not None else []
        idle = "pause" if self.player.paused else "go on"
        return [Press(_KEYS[order], now) for order in orders if order != idle]

    def take(self, now: float) -> None:
        """Keep every press that has become a tap by ``now``."""
        for press in self.hands.taken(now):
            if self._going_back:
                continue
            heard_s = self.player.position_s(press.at) - self._offset_s(press.student)
            self._keep(press.student, Tap(self.rehearsal.sheet.flight_s(heard_s), press.value))
        if self.listening is not None:
            (student,) = self.keepers
            for tap in self.listening.follow():
                if not self._going_back:
                    self._keep(student, tap)

    def hear_out(self) -> None:
        """Wait until the ears have understood what was said at the end of a finished run."""
        if self.listening is None or not self.progress.finished:
            return
        self.listening.hear_out()
        until = time.perf_counter() + HEAR_OUT_S
        while not self.listening.heard_out and time.perf_counter() < until:
            time.sleep(FRAME_S)

    def _keep(self, student: str, tap: Tap) -> None:
        if tap.time_s >= EARLIEST_TAP_S:
            self.progress.taps[student].append(tap)
            self.keepers[student].tap(tap)

    def end(self, ending: Ending) -> None:
        """End the attempt; nothing, where none is flown."""
        self.hands.forget()
        for name, keeper in self.keepers.items():
            keeper.end(ending, self._flown_s)
            self.progress.taps[name].clear()

    def start_over(self) -> None:
        """End the attempt and play from the beginning; until that is heard, nothing is tapped."""
        self.end("stopped")
        self.player.restart()
        self._going_back = True

    def done(self) -> Done:
        """What is left of it."""
        self.end("interrupted")
        numbers = (keeper.last for keeper in self.keepers.values())
        return Done(
            self.progress.finished,
            tuple(number for number in numbers if number is not None),
            _noise(self.player),
            self.left,
        )

    def _offset_s(self, student: str) -> float:
        # Asked each time: another device may have taken over.
        found = self.logbook.calibration(student, self.player.device)
        return found.offset_s if found else 0.0

    @property
    def _flown_s(self) -> float:
        return self.rehearsal.sheet.flight_s(self.progress.position_s)


def _noise(player: Player) -> str:
    if not player.underruns:
        return ""
    times = "once" if player.underruns == 1 else f"{player.underruns} times"
    return f"The sound ran dry {times}: this machine was busy with something else."
