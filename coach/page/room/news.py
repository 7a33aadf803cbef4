"""What a room tells the browsers that are connected to it; see `messages`."""

from __future__ import annotations

from typing import Any, Literal

from coach.page.hand.messages import Holding, Kept
from coach.page.room.messages import State
from coach.page.server.replies import Message
from coach.page.server.talk import Ask, Note, Refused, Settled


class Welcome(Message):
    """To a phone that is in.

    Attributes:
        token: to come back with, until another comes.
        name: as everybody sees it.
        room: the room's name.
        next_tap: the number of its next tap.
    """

    type: Literal["welcome"] = "welcome"
    token: str
    name: str
    room: str
    next_tap: int


class Waiting(Message):
    """To a phone that is not in yet: the instructor is asked; `Welcome` or `Refused` follows.

    Attributes:
        words: the state.
        hint: what is asked, and what else they can do.
    """

    type: Literal["waiting"] = "waiting"
    words: str
    hint: str


class Tapped(Message):
    """To a phone: this tap is on disk (or was, for a number sent twice).

    Attributes:
        number: the tap's.
        time_s: seconds on the flight's clock; None where it belongs to no run: before the count-in
            ends, while paused, after the end.
    """

    type: Literal["tapped"] = "tapped"
    number: int
    time_s: float | None


class RoomState(Message):
    """To both, first and whenever one of these changes.

    Attributes:
        name: the room's.
        state: where it stands.
        run: counts the room's runs from 1; 0 before the first.
        title: the maneuver's, or "".
        airplane: its title, or "".
        rehearsal: to the instructor, for ``/api/rehearsals/{rehearsal}``; "" to phones, and where
            none is ready.
        position_s: while paused, where the sound is to go on; else 0.
        names_shown: whether the picture of everybody has names.
        picture: to the instructor, the address of everybody's picture; "" where there is none.
        code: to the instructor, what students type to come in; "" to phones.
        words: to phones, the state.
        hint: to phones, what to do then.
    """

    type: Literal["room"] = "room"
    name: str
    state: State
    run: int
    title: str = ""
    airplane: str = ""
    rehearsal: str = ""
    position_s: float = 0.0
    names_shown: bool = False
    picture: str = ""
    code: str = ""
    words: str = ""
    hint: str = ""


class Listed(Message):
    """One line of the roster.

    Attributes:
        number: of the student in this room.
        name: as given.
        here: whether the phone is connected.
        uncertainty_ms: of its clock; None until it has settled.
        taps: in this run.
        hand: how the phone flies that is held as the airplane, in words; "" where none is.
        there: how many are in who came from the same address, with this one.
    """

    number: int
    name: str
    here: bool
    uncertainty_ms: float | None
    taps: int
    hand: str
    there: int


class Guest(Message):
    """One who waits to be let in.

    Attributes:
        number: in this room.
        name: as the logbook has it, with runs from elsewhere.
    """

    number: int
    name: str


class Roster(Message):
    """To the instructor: who is in, and who waits to be; at most twice a second.

    Attributes:
        students: who is in, in the order they came.
        guests: who waits, likewise.
    """

    type: Literal["roster"] = "roster"
    students: tuple[Listed, ...]
    guests: tuple[Guest, ...]


class Own(Message):
    """To a phone after a run: its own debrief.

    Attributes:
        debrief: as ``GET /api/runs/{number}`` gives it.
        picture: the address of its picture, to be fetched with the token in ``X-Coach-Key``.
    """

    type: Literal["own"] = "own"
    debrief: dict[str, Any]
    picture: str


ToBrowser = (
    Ask
    | Settled
    | Refused
    | Note
    | Waiting
    | Welcome
    | Tapped
    | Kept
    | Holding
    | RoomState
    | Roster
    | Own
)
