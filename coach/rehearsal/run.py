"""The run itself: a rehearsal is heard, the students tap, and all of it is kept as it goes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from coach.logbook.file import Full
from coach.logbook.logbook import Logbook
from coach.logbook.run import Ending
from coach.rehearsal.attempt import AGAIN_S, Attempt, belongs
from coach.rehearsal.listening import Listening
from coach.rehearsal.progress import Done, Progress
from coach.rehearsal.ready import Rehearsal
from coach.rehearsal.steering import Moved, Steering
from coach.sound.outputs import open_player
from coach.sound.player import Player
from coach.sound.timekeeper import MACHINE, Timekeeper
from coach.taps.order import TALK, Order, by_key
from coach.taps.pressing import ALONE, Hands, Keyboard, Press
from coach.taps.tap import Tap
from coach.taps.unheard import Unheard

FRAME_S = 1.0 / 15.0
"""How often the screen is drawn anew."""

NOTE_S = 10.0
"""So far into the flight what was to be said before it is still shown."""

FULL = "The disk is full: make room, and the run is ended; Ctrl-C leaves it unended."

WAITING = "The rest is still being spoken: the count-in comes as soon as it is there."

HEAR_OUT_S = 8.0
"""The most that a finished run waits for what was said at its end to be understood: on a machine
that has much else to do, the recogniser is seconds behind."""


def run(
    rehearsal: Rehearsal,
    keyboard: Keyboard,
    logbook: Logbook,
    show: Callable[[Progress], None],
    *,
    output: str | None = None,
    player: Player | None = None,
    students: Mapping[str, str] | None = None,
    listen: Callable[[Player], Listening] | None = None,
    hand: Moved | None = None,
    tone_deg: float = 0.0,
    timekeeper: Timekeeper = MACHINE,
) -> Done:
    """Play a rehearsal, take the taps, and keep the run as it goes.

    The keys are those of the students to tap, p to pause and go on, r to start over and q to stop;
    a student alone at the keyboard may type numbers, and one who is heard may say "coach pause",
    "coach go on", "coach start over" and "coach stop". Starting over begins another run. A program
    that was halted (Ctrl-Z) comes back paused. A tap is kept less the student's offset here.

    An opening is heard at once; before the count-in the run stands until its rest is there.

    Args:
        rehearsal: from `coach.rehearsal.ready`, a whole one or its opening.
        keyboard: the keys.
        logbook: where the run is kept, from its first moment on.
        show: called about fifteen times a second with where the run stands.
        output: the sound device's name, or None for the usual one.
        player: one that plays already how every rehearsal begins, in place of ``output``.
        students: each one's name by key; None for a student without a name at the space bar.
        listen: opens the coach's ears for a student who is alone; v is then the talk key.
        hand: the phone that is the hand of a student who is alone.
        tone_deg: as for `Steering`.
        timekeeper: whose time it is flown in.

    Raises:
        Problem: the sound device is unknown.
    """
    begun, player = player, player or open_player(rehearsal.soundtrack, output, timekeeper)
    running = _Running(rehearsal, logbook, player, students or {ALONE: ""})
    running.listening = listen(player) if listen is not None else None
    running.steering = Steering(hand, rehearsal, player, tone_deg) if hand is not None else None
    if begun is not None:
        begun.extend(rehearsal.soundtrack)
    else:
        player.start()
    try:
        while not running.progress.finished and not running.stopped:
            # Before the keys are read: what is certain by now must have been read.
            now = timekeeper.now()
            for press in keyboard.presses():
                if press.key == "closed":
                    running.left = True
                    return running.done()
                running.press(press)
                if running.stopped:
                    break
            running.go_on(now)
            show(running.progress)
            timekeeper.sleep(FRAME_S)
        running.hear_out()
        # A press of the last moment becomes a tap a little later.
        running.take(timekeeper.now() + 1.0)
        running.steer()
        ending: Ending = "finished" if running.progress.finished else "stopped"
        while not running.end(ending) and not running.left:
            running.progress.message = FULL
            show(running.progress)
            timekeeper.sleep(AGAIN_S)
            running.left = any(press.key in ("ctrl-c", "closed") for press in keyboard.presses())
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
        self.progress = Progress(rehearsal.sheet, taps={name: [] for name in keys.values()})
        self.listening: Listening | None = None
        self.steering: Steering | None = None
        self.stopped = False
        self.left = False
        self._attempt = Attempt(rehearsal)
        self._numbers: dict[str, int] = {}
        self._ending: Ending | None = None
        self._lost: list[Unheard] = []
        self._noted_s: float | None = None
        # Since starting over, until the player is really back before the first moment.
        self._going_back = False

    def press(self, press: Press) -> None:
        """Do what a key asks for."""
        if order := by_key(press.key, paused=self.player.paused):
            self.obey(order)
            self.left = press.key == "ctrl-c"
        elif press.key == TALK and self.listening is not None:
            self.listening.push()
        elif not self.player.paused:
            self.hands.press(press.key, press.at)

    def obey(self, order: Order) -> None:
        """Do what the student orders, by a key or aloud."""
        if order == "start over":
            self.start_over()
        elif order == "stop":
            self.stopped = True
        elif order == "pause" and not self.player.paused:
            self.player.pause()
        elif order == "go on" and self.player.paused:
            self.player.resume()

    def go_on(self, now: float) -> None:
        """Take what was certainly done by ``now`` and note how far the run has come."""
        for order in self.listening.orders() if self.listening is not None else ():
            self.obey(order)
        rest = self.rehearsal.rest
        if rest is not None and rest.done():
            self.join(rest.result())
        self.take(now)
        self.progress.position_s = self.player.position_s()
        heard = self.listening.note if self.listening is not None else ""
        first = self.rehearsal.note if self._flown_s < NOTE_S else None
        waits = WAITING if self.player.waiting else None
        trouble = self.steer()
        self.progress.message = self.player.note or waits or heard or trouble or first or ""
        self.progress.paused = self.player.paused
        self.progress.finished = self.player.finished
        self._going_back = self._going_back and self._flown_s > 0.0
        if not self._going_back:
            self._note_reached()

    def join(self, whole: Rehearsal) -> None:
        """Go on with the whole of what was begun with its opening; no run has begun by then."""
        self.rehearsal = replace(whole, note=whole.note or self.rehearsal.note)
        self._attempt = Attempt(self.rehearsal)
        self.progress.sheet = whole.sheet
        if self.steering is not None:
            self.steering.join(self.rehearsal)
        self.player.extend(whole.soundtrack)

    def take(self, now: float) -> None:
        """Keep every press that has become a tap by ``now``."""
        for press in self.hands.taken(now):
            if self._going_back:
                continue
            heard_s = self.player.position_s(press.at) - self._offset_s(press.student)
            self._keep(press.student, Tap(self.rehearsal.sheet.flight_s(heard_s), press.value))
        if self.listening is not None:
            (student,) = self.progress.taps
            for tap in self.listening.follow():
                if not self._going_back:
                    self._keep(student, tap)
            self._keep_unheard()

    def steer(self) -> str:
        """Keep what the hand flew; what is wrong with its phone, or ""."""
        if self.steering is None:
            return ""
        motion = self.steering.follow()
        self.progress.hand = self.steering.live
        if self.steering.live is not None:
            self._attempt.by_hand(self.progress.taps)
        self._attempt.motion(self.logbook, [(next(iter(self.progress.taps)), motion)])
        return self.steering.trouble

    def hear_out(self) -> None:
        """Wait until the ears have understood what was said at the end of a finished run."""
        if self.listening is None or not self.progress.finished:
            return
        self.listening.hear_out()
        timekeeper = self.player.timekeeper
        until = timekeeper.now() + HEAR_OUT_S
        while not self.listening.heard_out and timekeeper.now() < until:
            timekeeper.sleep(FRAME_S)

    def _keep(self, student: str, tap: Tap) -> None:
        if belongs(tap.time_s):
            self.progress.taps[student].append(tap)
            self._attempt.tap(self.logbook, [(student, tap)])

    def _keep_unheard(self, *, over: bool = False) -> None:
        """Keep in which stretches the student could not be perceived."""
        if self.listening is None or self._going_back:
            return
        self._lost += self.listening.unheard(over=over)
        if self._lost:
            (student,) = self.progress.taps
            self._attempt.unheard(self.logbook, [(student, one) for one in self._lost])
            self.progress.unheard += self._lost
            self._lost.clear()

    def _note_reached(self) -> None:
        """About once a second."""
        if self._noted_s is None or abs(self._flown_s - self._noted_s) >= 1.0:
            self._attempt.reached(self.logbook, self._flown_s, self.progress.taps)
            self._noted_s = self._flown_s if self._flown_s > 0.0 else None

    def end(self, ending: Ending) -> bool:
        """End the attempt, nothing where none is flown; whether that could be written."""
        self.hands.forget()
        # As it was told first, however often it takes to write it.
        self._ending = self._ending or ending
        try:
            self._keep_unheard(over=True)
            self._attempt.end(self.logbook, self._ending, self._flown_s)
        except Full:
            return False
        self._ending = None
        self._numbers |= self._attempt.numbers
        self._attempt = Attempt(self.rehearsal)
        self._noted_s = None
        for taps in self.progress.taps.values():
            taps.clear()
        self.progress.unheard.clear()
        return True

    def start_over(self) -> None:
        """End the attempt and play from the beginning; until that is heard, nothing is tapped."""
        if not self.end("stopped"):  # two attempts must not become one run
            self.stopped = True
            return
        self.player.restart()
        self._going_back = True
        if self.steering is not None:
            self.steering.restart()

    def done(self) -> Done:
        """What is left of it."""
        self.end("interrupted")
        numbers = self._numbers | self._attempt.numbers
        return Done(
            self.progress.finished,
            tuple(numbers[name] for name in self.progress.taps if name in numbers),
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
