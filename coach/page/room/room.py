"""A room: where it stands, and where on the flight each tap, and what a hand did, belongs.

Who is in it is its door's affair. Neither does any input or output of its own. Every time that they
are told is on the room's clock, and whatever cannot be done raises Problem with one sentence for
the person who wanted it.

One page leads the room. Another that knows the key takes over, since a laptop that was closed or
lost its network would otherwise keep its instructor out; the page that led is told so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from coach.hand.motion import Motion
from coach.hand.readings import Readings
from coach.page.alone.chosen import Chosen
from coach.page.alone.rehearsals import Prepared
from coach.page.room.door import Door
from coach.page.room.messages import PhoneTap, Sounding, State
from coach.page.room.news import Tapped
from coach.page.room.student import Student
from coach.page.server.clocks import BrowserClock, Loudspeaker
from coach.page.server.names import new_secret
from coach.problems import Problem
from coach.rehearsal.attempt import belongs
from coach.rehearsal.moving import Moving
from coach.rehearsal.ready import Rehearsal
from coach.rehearsal.steering import Stage

FRESH_S = 5.0
"""A browser that was silent for longer may have slept, and its clock with it: a tap then waits for
the next answer."""

END_S = 0.1
"""So near its end a soundtrack is over: no report comes from after it."""

_MOVES: dict[str, tuple[tuple[State, ...], State]] = {
    "start": (("ready", "finished"), "running"),
    "pause": (("running",), "paused"),
    "resume": (("paused",), "running"),
    "stop": (("running", "paused"), "finished"),
}


_STAGES: Mapping[State, Stage] = {"paused": "paused", "finished": "over"}


class Room:
    """A room of students around one loudspeaker.

    Attributes:
        name: of the room.
        key: what the instructor's page is known by.
        door: who is in, and how one comes in.
        state: where it stands.
        run: counts the runs.
        chosen: what is flown next; None before the first choice.
        ready: the same, to be heard; None until it can be.
        stood_s: where the sound stood, or was when it was last asked for.
        names_shown: whether everybody's picture has names.
        leader: the instructor's clock.
    """

    def __init__(self, name: str, code: str = "", key: str = "") -> None:
        self.name = name
        self.key = key or new_secret()
        self.door = Door(code)
        self.state: State = "open"
        self.run = 0
        self.chosen: Chosen | None = None
        self.ready: Prepared | None = None
        self.names_shown = False
        self.leader = BrowserClock()
        self.stood_s = 0.0
        self._loudspeaker = Loudspeaker()
        self._over_s = math.inf  # of the run, on the room's clock

    def restore(self, state: State, run: int, chosen: Chosen | None, position_s: float) -> None:
        """Go on as the room was left; what was chosen has to be prepared again."""
        self.state, self.run, self.chosen, self.stood_s = state, run, chosen, position_s

    @property
    def rehearsal(self) -> Rehearsal | None:
        """What is flown, once it is ready."""
        return None if self.ready is None else self.ready.rehearsal

    # Where it stands.

    def choose(self, chosen: Chosen) -> None:
        """Have something prepared.

        Raises:
            Problem: a run is going on.
        """
        if self.state in ("running", "paused"):
            raise Problem("Stop the run before you choose another maneuver.")
        self.state, self.chosen, self.ready = "preparing", chosen, None
        # What they tap late is no part of another maneuver.
        for student in self.door.students.values():
            student.anew()

    def prepared(self, ready: Prepared) -> None:
        """What was chosen is ready; a run that was restored waits for its page."""
        self.chosen, self.ready = ready.chosen, ready
        if self.state == "preparing":
            self.state = "ready"

    def failed(self) -> None:
        """What was chosen cannot be flown."""
        self.state, self.chosen, self.ready = "open", None, None

    def move(self, do: str, now_s: float) -> None:
        """Start, pause, resume or stop.

        Raises:
            Problem: it cannot be done from where the room stands, or nothing is ready.
        """
        allowed, state = _MOVES[do]
        if self.state not in allowed or self.rehearsal is None:
            raise Problem(f"The room is {self.state}: it cannot {do} now.")
        if do == "start":
            if not self.leader.settled:
                raise Problem("This page's clock is not known yet: try again in a second.")
            self.run += 1
            self.stood_s = 0.0
            self._loudspeaker = Loudspeaker()
            self._over_s = math.inf
            for student in self.door.students.values():
                student.anew()
        if do == "pause":
            self.stood_s = self.position_s(now_s)
        if do == "stop":
            self._over_s = now_s
        self.state = state

    def lost(self, now_s: float) -> None:
        """The sound is gone with the page that played it: the run is paused where it was."""
        if self.state == "running":
            self.stood_s = self.position_s(now_s)
            self.state = "paused"
            self._loudspeaker.heard(now_s, self.stood_s, False)

    def heard(self, heard: Sounding) -> bool:
        """What the loudspeaker plays.

        Returns:
            Whether the run has come to its end with it.
        """
        relation = self.leader.relation
        if heard.run != self.run or relation is None:
            return False
        if self.state not in ("running", "paused"):
            return False
        self._loudspeaker.heard(relation.room_s(heard.at_s), heard.position_s, heard.playing)
        if self.state == "paused":
            if not heard.playing:
                self.stood_s = heard.position_s
            return False
        if self.rehearsal is None or heard.position_s < self.rehearsal.soundtrack.length_s - END_S:
            return False
        self.state, self._over_s = "finished", relation.room_s(heard.at_s)
        return True

    def position_s(self, now_s: float) -> float:
        """Where the sound is, or stands."""
        playing_s = self._loudspeaker.position_s(now_s)
        if playing_s is None or self.rehearsal is None:
            return self.stood_s
        return min(max(playing_s, 0.0), self.rehearsal.soundtrack.length_s)

    def stage(self, now_s: float) -> Stage:
        """Where it stands, for a hand."""
        if self.state == "running" and self.rehearsal is not None:
            counted_in = self.rehearsal.sheet.flight_s(self.position_s(now_s)) >= 0.0
            return "flying" if counted_in else "level"
        return _STAGES.get(self.state, "joined")

    # What students do.

    def place(self, student: Student, tap: PhoneTap, now_s: float) -> list[Tapped]:
        """Put a tap where it belongs; one that waits already is not another one.

        Returns:
            It and those that waited before it, or none where it has to wait as well: for an answer
            of the phone's clock, or, after the server was started again in the middle of a run, for
            the loudspeaker.
        """
        if all(one.number != tap.number for one in student.waiting):
            student.waiting.append(tap)
        return self.place_waiting(student, now_s)

    def place_waiting(self, student: Student, now_s: float) -> list[Tapped]:
        """The taps that waited, if they need not any more."""
        if self._coming_back or now_s - student.clock.heard_s > FRESH_S:
            return []
        waiting, student.waiting = student.waiting, []
        return [
            Tapped(number=tap.number, time_s=self._time_s(student, tap, now_s)) for tap in waiting
        ]

    def flown(self, student: Student, readings: Readings | None = None) -> Motion:
        """What a hand did, where it belongs.

        Args:
            student: whose.
            readings: of its phone, on the room's clock; None where nothing came.

        Returns:
            That of these readings and of those that waited before them, or nothing where they have
            to wait for the loudspeaker as well.
        """
        if readings is not None:
            student.readings.append(readings)
        if self._coming_back:
            return Motion()
        waiting, student.readings = student.readings, []
        if student.hand is None or self.rehearsal is None or self.run == 0:
            return Motion()
        clocks = (student.clock.relation, self.leader.relation)
        doubt_s = sum(clock.uncertainty_s for clock in clocks if clock is not None)
        if student.moving is None:
            student.moving = Moving(self.rehearsal, student.hand.grip)
        return student.moving.follow(student.hand.grip, waiting, self._heard_s, doubt_s)

    @property
    def _coming_back(self) -> bool:
        """Whether the server was started again in a run, whose sound is not known yet."""
        return self.state == "running" and not (self._loudspeaker.known and self.rehearsal)

    def _heard_s(self, room_s: float) -> float | None:
        """Where on the soundtrack the run was then; None while it stood, or where it was over."""
        return None if room_s > self._over_s else self._loudspeaker.position_s(room_s)

    def _time_s(self, student: Student, tap: PhoneTap, now_s: float) -> float | None:
        relation = student.clock.relation
        if relation is None or self.rehearsal is None or self.run == 0:
            return None
        # No tap comes from the future, whatever a phone's clock says.
        position_s = self._heard_s(min(relation.room_s(tap.at_s), now_s))
        if position_s is None:
            return None
        time_s = self.rehearsal.sheet.flight_s(position_s)
        over = position_s > self.rehearsal.soundtrack.length_s
        return None if over or not belongs(time_s) else time_s
