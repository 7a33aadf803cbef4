"""One rehearsal of one maneuver, as the logbook keeps it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from coach.flight.moment import Moment
from coach.hand.motion import Motion
from coach.script.tolerance import Tolerance
from coach.taps.tap import Tap
from coach.taps.unheard import NOT_SEEN, Unheard

Ending = Literal["finished", "stopped", "interrupted"]

ENDINGS: Mapping[Ending, str] = {
    "finished": "flown to the end",
    "stopped": "stopped early",
    "interrupted": "interrupted",
}
"""Every ending in words."""

DAMAGED = "damaged"
"""Stands in the file for the ending of a run that cannot be read: it is left out of everything."""

TRACE_COLUMNS = ("t_s", "ias_kt", "altitude_ft", "bank_deg", "pitch_deg")

HEADING = "heading_deg"
"""A further column of the trace, which runs from before it was kept have not: it goes on beyond 360
and below 0, so that it can be interpolated."""


@dataclass(frozen=True)
class Score:
    """A run in a few numbers, kept beside it so that a long logbook is read quickly.

    Attributes:
        checkpoints: how many the run got to.
        tapped: how many of them have a tap.
        on_time: how many of them were done on time; see `coach.debrief.gauging.Gauged.score`.
        absolute_error_s: mean unsigned error, in the student's own seconds; None without a tap.
        flown: how many of the checkpoints were judged by what the hand flew.
    """

    checkpoints: int
    tapped: int
    on_time: int
    absolute_error_s: float | None
    flown: int = 0


@dataclass(frozen=True)
class LoggedRun:
    """A run at a glance, as one line of the logbook; its fields are those of `Run`."""

    id: int
    started: datetime
    pace: float
    support: str
    ended: Ending
    score: Score | None
    room: str = ""


@dataclass(frozen=True, kw_only=True)
class Run:
    """A run, with all that is needed to debrief it any time later.

    Attributes:
        maneuver: the script's name.
        title: the maneuver's name for people.
        airplane: the airplane's name for people.
        started: when, with its time zone.
        moments: every planned checkpoint, in time, whether the run got there or not.
        trace: the planned flight at about 2 Hz, lists of one length under `TRACE_COLUMNS` and
            `HEADING`.
        day: the conditions as they were given (weight, altitude, wind...), plain JSON values.
        student: a name on this machine, or "".
        room: the name of the room where it was flown in a class; "" for one that was flown alone.
        pace: 1 is the airplane's own tempo, below 1 slower.
        support: how much the coach said.
        tolerances: the limits of the student's checkride as the run began, so that it is judged by
            them any time later; none in runs from before this was kept, nor where there are none.
        taps: what the student did, as it came.
        unheard: where what the student said could not be perceived, as it came.
        motion: the attitude that the student's hand flew, where it was seen.
        ended: "finished" (flown to the end), "stopped" by the student, or "interrupted".
        reached_s: how far the run got, seconds on the flight's clock.
        score: the run in a few numbers; None until it was judged.
        id: its number in the logbook; None until it is there.
    """

    maneuver: str
    title: str
    airplane: str
    started: datetime
    moments: tuple[Moment, ...]
    trace: dict[str, list[float]]
    day: dict[str, Any] = field(default_factory=dict)
    student: str = ""
    room: str = ""
    pace: float = 1.0
    support: str = ""
    tolerances: tuple[Tolerance, ...] = ()
    taps: tuple[Tap, ...] = ()
    unheard: tuple[Unheard, ...] = ()
    motion: Motion = field(default_factory=Motion)
    ended: Ending = "interrupted"
    reached_s: float = 0.0
    score: Score | None = None
    id: int | None = None

    @property
    def unseen(self) -> bool:
        """Whether it was flown with a phone of which nothing was read."""
        return not self.motion and any(one.why == NOT_SEEN for one in self.unheard)

    @property
    def taps_s(self) -> tuple[float, ...]:
        """When the taps were, seconds on the flight's clock."""
        return tuple(tap.time_s for tap in self.taps)
