"""What goes over the room's WebSockets, one JSON object a message, told apart by its ``type``.

Times named ``at_s`` or ``..._s`` of a browser are its ``performance.now() / 1000``. Positions are
seconds on the soundtrack, times of taps seconds on the flight's clock. A browser computes neither:
it answers every `Ask` at once, and tells when something happened on its own clock.

A phone (``/ws/join``) sends `Join` first, then a `ClockAnswer` to every `Ask`, and `PhoneTap` for
every tap. It holds a tap back until it has had `Settled` on this connection, keeps it until
`Tapped` with its number comes, and sends what it still keeps again after it has come back.

The instructor's page (``/ws/lead``) sends `Lead` first, then answers likewise; `Choose` has a
rehearsal prepared, `Control` moves the room from one state to the next, and `Sounding` tells about
twice a second, and at once when the sound starts or pauses, what the loudspeaker is playing.

A message that is not as described closes the connection with code 1008; one larger than
`limits.MESSAGE_BYTES` with 1009. A connection that is closed after `Refused` is not to come back by
itself; any other comes back after a second or two.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, TypeAdapter

from coach.page.alone.chosen import Chosen
from coach.page.server.replies import Message

Number = Annotated[int, Field(ge=0, le=1_000_000)]
Seconds = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
Secret = Annotated[str, StringConstraints(min_length=1, max_length=64)]

State = Literal["open", "preparing", "ready", "running", "paused", "finished"]
"""Where a room stands.

open: nobody has chosen a maneuver; preparing: its sound is being made; ready: it can start;
running: the sound plays, its count-in included; paused; finished: the debrief can be looked at
(whether it was flown to the end or stopped), and the next run can start or be chosen.
"""


# From a browser.


class Join(Message):
    """A phone comes in, or back.

    Attributes:
        name: a first name or nickname; not looked at with a token.
        code: the room's code; not looked at with a token.
        token: what `Welcome` gave, kept by the phone; "" the first time.
        back: without a token, they say that they are the one of that name whose phone is gone; only
            where `Refused` offered it.
    """

    type: Literal["join"]
    name: Annotated[str, StringConstraints(max_length=200)] = ""
    code: Annotated[str, StringConstraints(max_length=20)] = ""
    token: Annotated[str, StringConstraints(max_length=64)] = ""
    back: bool = False


class Lead(Message):
    """The instructor's page takes the room; another one that had it is refused from then on.

    Attributes:
        key: the secret in the page's address.
        sounding: this page is in the middle of playing the run's sound, and lost only its
            connection. Where it is not, a run that was going on is paused.
    """

    type: Literal["lead"]
    key: Secret
    sounding: bool = False


class ClockAnswer(Message):
    """The answer to an `Ask`, at once.

    Attributes:
        number: the question's.
        received_s: when it came, on the browser's clock.
        answered_s: when this was sent, on the same clock.
    """

    type: Literal["answer"]
    number: Number
    received_s: Seconds
    answered_s: Seconds


class PhoneTap(Message):
    """One tap.

    Attributes:
        number: counts this student's taps, from `Welcome`'s ``next_tap`` on.
        at_s: the event's time (``event.timeStamp / 1000``) on the phone's clock.
    """

    type: Literal["tap"]
    number: Number
    at_s: Seconds


class Choose(Message):
    """The instructor has a rehearsal prepared; one that is being prepared is given up."""

    type: Literal["choose"]
    chosen: Chosen


class Control(Message):
    """The instructor moves the room on.

    ``start`` from ready or finished (another attempt at the same), ``pause`` from running,
    ``resume`` from paused, ``stop`` from running or paused, ``show`` and ``hide`` the names in the
    picture of everybody, ``remove`` a student by the number in the roster.
    """

    type: Literal["control"]
    do: Literal["start", "pause", "resume", "stop", "show", "hide", "remove"]
    student: Number = 0


class Sounding(Message):
    """What the loudspeaker plays (``AudioContext.getOutputTimestamp``).

    Attributes:
        run: `RoomState.run` of the run that this sound belongs to.
        position_s: the position of the soundtrack that was heard...
        at_s: ...at this time on the instructor's clock (``performanceTime / 1000``).
        playing: whether it goes on from there, or stands.
    """

    type: Literal["heard"]
    run: Number
    position_s: Seconds
    at_s: Seconds
    playing: bool


FromPhone = Join | ClockAnswer | PhoneTap
FromInstructor = Lead | ClockAnswer | Choose | Control | Sounding
_by_type = Field(discriminator="type")
from_phone: TypeAdapter[FromPhone] = TypeAdapter(Annotated[FromPhone, _by_type])
from_instructor: TypeAdapter[FromInstructor] = TypeAdapter(Annotated[FromInstructor, _by_type])


# To a browser.


class Ask(Message):
    """To both: what does your clock say? A few quickly at first, then every two seconds."""

    type: Literal["ask"] = "ask"
    number: int


class Settled(Message):
    """To both: the browser's clock is known, so taps can be taken; again when it changes.

    Attributes:
        uncertainty_ms: half the width of what its offset may be.
    """

    type: Literal["settled"] = "settled"
    uncertainty_ms: float


class Refused(Message):
    """To both, before the connection is closed: one sentence why.

    Attributes:
        why: for the person.
        again: whether they may try again at once with something else (a code, a name).
        gone: whether the name is that of somebody whose phone is gone: `Join` with ``back`` goes on
            in their place.
    """

    type: Literal["refused"] = "refused"
    why: str
    again: bool = False
    gone: bool = False


class Note(Message):
    """To both: one sentence; an empty one takes the last away."""

    type: Literal["note"] = "note"
    text: str


class Welcome(Message):
    """To a phone that is in.

    Attributes:
        token: to come back with.
        name: as everybody sees it.
        room: the room's name.
        next_tap: the number of its next tap.
    """

    type: Literal["welcome"] = "welcome"
    token: str
    name: str
    room: str
    next_tap: int


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
    """

    number: int
    name: str
    here: bool
    uncertainty_ms: float | None
    taps: int


class Roster(Message):
    """To the instructor: who is in, in the order they came; at most twice a second."""

    type: Literal["roster"] = "roster"
    students: tuple[Listed, ...]


class Own(Message):
    """To a phone after a run: its own debrief.

    Attributes:
        debrief: as ``GET /api/runs/{number}`` gives it.
        picture: the address of its picture, to be fetched with the token in ``X-Coach-Key``.
    """

    type: Literal["own"] = "own"
    debrief: dict[str, Any]
    picture: str


ToBrowser = Ask | Settled | Refused | Note | Welcome | Tapped | RoomState | Roster | Own
