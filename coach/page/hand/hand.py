"""One phone in the hand: what it sends becomes readings on this machine's clock."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from coach.hand import attitude
from coach.hand.grip import EASY, Grip
from coach.hand.poses import Poses
from coach.hand.readings import NONE, Readings
from coach.hand.watching import TROUBLES, Trouble, Watch, What
from coach.page.hand.messages import Held, Hold, Holding, Sensing
from coach.page.server.clocks import BrowserClock, Relation
from coach.rehearsal.steering import Stage
from coach.words import side_of

LIVE_S = 1.5
"""What a phone has just read is here within this, or its clock is not what it was."""

AHEAD_S = 0.05
"""By so much a reading may seem to come from the future, by what its clock is in doubt."""

MOST_WAITING = 200
"""Messages that wait for the clock: twenty seconds of them, and a phone that answers no question
for so long is given up before. Of more the first are forgotten."""

SURE_S = 0.05
"""A clock in no more doubt than this is known, after however few exchanges."""

TOLD_EVERY_S = 0.2
"""How often a phone is told how it is held."""

UNSURE_DEG = 10.0
"""Poses that contradict each other by more leave pitch and bank mixed: a nose that is 5 degrees off
makes nearly 3 degrees of pitch out of 30 of bank."""

STAGES: Mapping[Stage, tuple[str, str]] = {
    "joined": ("Joined", "Sit, clear the space around you, and start at the coach."),
    "level": ("Hold it level", "As you hold it now is taken for level flight."),
    "flying": ("Flying", "Look ahead, and leave this page open: there is nothing to see here."),
    "paused": ("Paused", "Nothing counts until it goes on."),
    "over": ("Finished", "The coach has your debrief. Keep this page open for the next run."),
}
"""What a hand shows of where the rehearsal stands, and what to do."""

LEARNING = "Show how you hold it"

AGAIN = "That is not well known: show it again."

_AT_REST: tuple[Stage, ...] = ("paused", "over")
"""When a phone may be put away."""

_LYING: tuple[What, ...] = ("lying", "frozen")
"""What a phone may do that lies on a table until it starts."""

_BEGUN: tuple[Stage, ...] = ("level", "flying")
"""When nothing can be shown any more of how it is held: it is flown."""

_UNSEEN: tuple[Stage, ...] = ("flying", "paused")
"""When a phone does not show how it is held: what is looked up to is leaned on."""

_SENSED: Mapping[str, What] = {
    "none": "no sensor",
    "refused": "refused",
    "unasked": "unasked",
    "hidden": "hidden",
}


class Hand:
    """One phone as the airplane. It does no input or output, and is fed by one thread.

    Attributes:
        phone: what its browser calls itself; "" where it does not say.
        clock: its clock; another one on every connection, for its page may be another.
        stage: where the rehearsal stands; set by whoever leads it, in whatever thread.
        grip: how it is held.
        poses: what is being shown of that; None at any other time.
        taken: the number up to which its messages are taken, as `Kept` tells it.
        attitude: pitch and bank as it is held now, degrees; None where nothing came lately.
    """

    def __init__(self, phone: str = "", grip: Grip | None = None) -> None:
        """A phone that has not been connected yet.

        Args:
            phone: what its browser calls itself.
            grip: how it is held, where that is known.
        """
        self.phone = phone
        self.grip = grip or EASY
        self.stage: Stage = "joined"
        self.poses: Poses | None = None
        self.taken = 0
        self.attitude: tuple[float, float] | None = None
        self._latest_s = float("-inf")
        self._unkept: Grip | None = None
        self.arrive(float("-inf"))

    def arrive(self, now_s: float) -> None:
        """It is connected, for the first time or again: its clock is unknown, and it is told all.

        What waited for the clock before was not taken, so it comes again.
        """
        self.clock = BrowserClock()
        self._waiting: deque[tuple[Held, float]] = deque(maxlen=MOST_WAITING)
        self._watch, self._watched_s = Watch(now_s), now_s
        self._wrong: Trouble | None = None
        self._sensed: What | None = None
        self._told: Holding | None = None
        self._told_s = float("-inf")

    # What it sends.

    def take(self, held: Held, now_s: float) -> Readings | None:
        """Take what it read.

        Args:
            held: a message; one that was taken already is left out.
            now_s: `time.perf_counter` of this machine.

        Returns:
            What is known to be from when, of this and of what waited: times on `time.perf_counter`,
            later than all before. None where there is nothing, or its clock must be asked first;
            then `placed` has it.
        """
        if held.number > (self._waiting[-1][0].number if self._waiting else self.taken):
            self._waiting.append((held, now_s))
        return self.placed(now_s)

    def placed(self, now_s: float) -> Readings | None:
        """The same of what waited, once the clock has been learned of again."""
        found = NONE
        while self._waiting and (relation := self._relation_of(*self._waiting[0], now_s)):
            held, _ = self._waiting.popleft()
            self.taken = held.number
            found = found.joined(self._on_this_clock(held, relation, now_s))
        live = found.at_s > now_s - LIVE_S
        if live.any():
            self._look(Readings(found.at_s[live], found.up[live]), now_s)
        return found if len(found) else None

    def sensing(self, sensing: Sensing) -> None:
        """Hear what became of its sensor."""
        self._sensed = _SENSED.get(sensing.what)

    def hold(self, hold: Hold) -> None:
        """The student says how it is held, or has it learned; any time, and again."""
        if hold.do == "learn" and self.stage not in _BEGUN:
            self.poses = Poses()
        elif hold.do == "easy":
            self.poses, self.grip, self._unkept = None, EASY, EASY
        elif hold.do == "held" and self.poses is not None:
            self.poses.held()
            self._learn()

    def learned(self) -> Grip | None:
        """How it is held, once, where that has just been said or shown: it is to be kept."""
        unkept, self._unkept = self._unkept, None
        return unkept

    # What is told.

    @property
    def doubt_s(self) -> float:
        """The most that the times of its readings may be off, as far as its clock goes."""
        relation = self.clock.relation
        return relation.uncertainty_s if relation else 0.0

    @property
    def trouble(self) -> str:
        """What is wrong with what it reads, a sentence; "" where all is well."""
        sensed, wrong = self._sensed, self._wrong  # once, for another thread may ask
        if sensed is not None:
            return TROUBLES[sensed].sentence
        if wrong is None or self.stage in _AT_REST:
            return ""
        waits = self.stage == "joined" and self.poses is None
        return "" if waits and wrong.what in _LYING else wrong.sentence

    @property
    def holding(self) -> Holding:
        """What it is to show."""
        if self.poses is not None:
            return Holding(
                state="learning",
                words=(self.poses.pose or LEARNING).capitalize(),
                hint=self.poses.asks,
                trouble=self.trouble or self.poses.refused,
                pose=self.poses.pose or "",
            )
        words, hint = STAGES[self.stage]
        if self.stage == "joined":
            unsure = (self.grip.quality_deg or 0.0) > UNSURE_DEG
            hint = " ".join([self.grip.words, *[AGAIN] * unsure, hint])
        pitch_deg, bank_deg = None, None
        if self.attitude is not None and self.stage not in _UNSEEN:
            pitch_deg, bank_deg = self.attitude
        return Holding(
            state=self.stage,
            words=words,
            hint=hint,
            trouble=self.trouble,
            attitude=_said(pitch_deg, bank_deg),
            pitch_deg=pitch_deg,
            bank_deg=bank_deg,
        )

    def news(self, now_s: float) -> Holding | None:
        """What it is to show, where that is not what it was told last.

        Asked for all the while that it is connected: that nothing comes is seen here.
        """
        if now_s - self._told_s < TOLD_EVERY_S:
            return None
        self._told_s = now_s
        if now_s - self._watched_s > TOLD_EVERY_S:
            self._look(NONE, now_s)
        told, self._told = self._told, self.holding
        return self._told if self._told != told else None

    # How.

    def _relation_of(self, held: Held, came_s: float, now_s: float) -> Relation | None:
        """How its clock stood when it read this; None where it must be asked first.

        Its clock may have jumped, as while it slept, since it was asked last: what it read since
        then is from now, or else waits until it has been asked.

        Args:
            held: what it read.
            came_s: when that came.
            now_s: the time.
        """
        relation = self.clock.relation
        if relation is None or not (self.clock.settled or relation.uncertainty_s <= SURE_S):
            return None
        latest_s = relation.room_s(held.at_s[-1]) if held.at_s else now_s
        asked_since = min(latest_s, came_s) <= self.clock.heard_s
        return relation if asked_since or -AHEAD_S <= now_s - latest_s <= LIVE_S else None

    def _on_this_clock(self, held: Held, relation: Relation, now_s: float) -> Readings:
        at_s = [relation.room_s(one) for one in held.at_s]
        read = attitude.readings(at_s, held.quaternions, held.angles)
        new = (read.at_s > self._latest_s) & (read.at_s <= now_s + AHEAD_S)
        readings = Readings(read.at_s[new], read.up[new])
        if len(readings):
            self._latest_s = float(readings.at_s[-1])
        return readings

    def _look(self, readings: Readings, now_s: float) -> None:
        """See what is wrong with what came just now, how it is held, and which pose is shown."""
        self._wrong, self._watched_s = self._watch.feed(readings, now_s), now_s
        if self.stage in _BEGUN:
            self.poses = None
        if len(readings):
            self._sensed = None
            pitch_deg, bank_deg = self.grip.attitude(readings.up[-1:])
            self.attitude = round(float(pitch_deg[0]), 1), round(float(bank_deg[0]), 1)
            if self.poses is not None:
                self.poses.take(readings)
                self._learn()
        elif self._wrong is not None:
            self.attitude = None

    def _learn(self) -> None:
        """Once all poses have been shown, that is how it is held."""
        if self.poses is not None and self.poses.grip is not None:
            self.grip = self._unkept = self.poses.grip
            self.poses = None


def _said(pitch_deg: float | None, bank_deg: float | None) -> str:
    """``"nose 5° up, bank 12° right"``."""
    if pitch_deg is None or bank_deg is None:
        return ""
    nose, bank = round(pitch_deg), round(bank_deg)
    nosed = f"nose {abs(nose)}° {'up' if nose > 0 else 'down'}" if nose else "nose level"
    banked = f"bank {abs(bank)}° {side_of(bank)}" if bank else "wings level"
    return f"{nosed}, {banked}"
