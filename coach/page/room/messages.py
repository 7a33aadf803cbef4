"""What browsers tell a room over its WebSockets, and how: `news` has what the room tells them.

See `coach.page.server.talk` for what is said on every one. Positions are seconds on the soundtrack,
times of taps seconds on the flight's clock. A browser computes neither: it tells when something
happened on its own clock.

A phone (``/ws/join``) sends `Join` first, then a `ClockAnswer` to every `Ask`, and `PhoneTap` for
every tap once it has had `Welcome`; until then it may have to wait for the instructor, and is told
so by `Waiting`. It holds a tap back until it has had `Settled` on this connection, keeps it until
`Tapped` with its number comes, and sends what it still keeps again after it has come back. What it
says when it is held as the airplane is told in `coach.page.hand.messages`.

The instructor's page (``/ws/lead``) sends `Lead` first, then answers likewise; `Choose` has a
rehearsal prepared, `Control` moves the room from one state to the next, and `Sounding` tells about
twice a second, and at once when the sound starts or pauses, what the loudspeaker is playing.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter

from coach.page.alone.chosen import Chosen
from coach.page.hand.messages import Held, Hold, Sensing
from coach.page.server.replies import Message
from coach.page.server.talk import ClockAnswer, Number, Seconds, Secret

State = Literal["open", "preparing", "ready", "running", "paused", "finished"]
"""Where a room stands.

open: nobody has chosen a maneuver; preparing: its sound is being made; ready: it can start;
running: the sound plays, its count-in included; paused; finished: the debrief can be looked at
(whether it was flown to the end or stopped), and the next run can start or be chosen.
"""


class Join(Message):
    """A phone comes in, or back.

    Attributes:
        name: a first name or nickname; not looked at with a token.
        code: the room's code; not looked at with a token.
        token: what the last `Welcome` gave, kept by the phone; "" the first time.
        back: without a token, they say that they are the one of that name whose phone is gone; only
            where `Refused` offered it. What that phone had for a token is dead from then on.
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
    """The instructor moves the room on, or says who is in it.

    ``start`` from ready or finished (another attempt at the same), ``pause`` from running,
    ``resume`` from paused, ``stop`` from running or paused, ``show`` and ``hide`` the names in the
    picture of everybody.

    By the number in the roster: ``remove`` a student, or with everybody who came from the same
    address ``remove_all_there``; their names stay out until there is a new ``code``, with which
    whoever is in stays in. ``let_in`` somebody who waits for that, or ``refuse`` them;
    ``let_all_in``.
    """

    type: Literal["control"]
    do: Literal[
        "start",
        "pause",
        "resume",
        "stop",
        "show",
        "hide",
        "remove",
        "remove_all_there",
        "code",
        "let_in",
        "let_all_in",
        "refuse",
    ]
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


FromPhone = Join | ClockAnswer | PhoneTap | Held | Hold | Sensing
FromInstructor = Lead | ClockAnswer | Choose | Control | Sounding
_by_type = Field(discriminator="type")
from_phone: TypeAdapter[FromPhone] = TypeAdapter(Annotated[FromPhone, _by_type])
from_instructor: TypeAdapter[FromInstructor] = TypeAdapter(Annotated[FromInstructor, _by_type])
