"""What a student sees at one moment of a run, before it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.callouts.support import Shows

State = Literal["count-in", "running", "paused", "finished"]
MarkState = Literal["coming", "tapped", "missed", "unheard", "passed"]


@dataclass(frozen=True)
class Mark:
    """One checkpoint of this loop, and whether it was tapped.

    Unheard where nobody can know; passed where a hand flies along, of which the debrief tells.
    """

    name: str
    state: MarkState


@dataclass(frozen=True)
class View:
    """Everything the screen shows at one moment.

    Attributes:
        title: the maneuver.
        airplane: its title.
        loop: from 1.
        loops: how many there are; one loop is not counted aloud on the screen.
        side: of this loop's turn.
        state: ``"count-in"``, ``"running"``, ``"paused"`` or ``"finished"``.
        leg: what is being flown, or is flown first after the count-in.
        pitch_deg: target attitude relative to level flight at entry, nose up positive.
        bank_deg: right positive.
        ias_kt: indicated airspeed.
        altitude_ft: above mean sea level.
        next_name: the next checkpoint, or ``""`` when there is none.
        next_reference: the outside reference at it, or ``""``.
        next_in_s: seconds until it.
        next_of_s: seconds from the checkpoint before it, the length of the whole bar.
        caption: what the coach is saying, or ``""``.
        marks: the checkpoints of this loop, in order, where one student taps.
        counts: each student and how many taps there were, where several tap.
        message: one sentence to the student, or ``""``.
        count_in_s: seconds until the maneuver begins, while the state is ``"count-in"``.
        shows: how much of it.
        hand: how it is with the hand that flies along, in words; "" where none does.
        hand_pitch_deg: how it is held; None where that is not known, or not to be shown.
        hand_bank_deg: likewise.
    """

    title: str
    airplane: str
    loop: int
    loops: int
    side: Literal["right", "left"]
    state: State
    leg: str
    pitch_deg: float
    bank_deg: float
    ias_kt: float
    altitude_ft: float
    next_name: str = ""
    next_reference: str = ""
    next_in_s: float = 0.0
    next_of_s: float = 0.0
    caption: str = ""
    marks: tuple[Mark, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    message: str = ""
    count_in_s: float = 0.0
    shows: Shows = "everything"
    hand: str = ""
    hand_pitch_deg: float | None = None
    hand_bank_deg: float | None = None
