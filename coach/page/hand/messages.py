"""What a phone in the hand tells over its WebSocket, and what it is told.

See `coach.page.server.talk` for what is said on every one. ``/ws/hand`` is for the hand of somebody
who rehearses alone, at the page or at the terminal: it sends `Come` first. In a room a phone that
has joined (``/ws/join``) is the hand of its student with its first `Hold`; the rest is the same.

A phone reads its sensor as fast as that goes, up to 60 times a second, sends `Held` about ten
times a second and keeps each until `Kept` with its number comes. On every connection, and when it
becomes a hand, it is told first by `Kept` what has been taken; what it keeps beyond that it sends
again, several in one and numbered from there on, once it has had `Settled`. So nothing is lost and
nothing is taken twice.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter, model_validator

from coach.page.server.replies import Message
from coach.page.server.talk import ClockAnswer, Number, Seconds
from coach.rehearsal.steering import Stage

Fraction = Annotated[float, Field(ge=-1.001, le=1.001, allow_inf_nan=False)]
Angle = Annotated[float, Field(ge=-360.0, le=360.0, allow_inf_nan=False)]

MOST_READINGS = 60
"""In one message."""


class Come(Message):
    """A phone comes in as the hand of the rehearsal, or back.

    Attributes:
        code: of the rehearsal; in the picture, or typed.
        token: what the last `Welcome` gave; "" the first time. With it the code is not looked at.
        phone: what this browser calls itself, kept by it, so that it is known how it is held.
    """

    type: Literal["come"]
    code: Annotated[str, StringConstraints(max_length=20)] = ""
    token: Annotated[str, StringConstraints(max_length=64)] = ""
    phone: Annotated[str, StringConstraints(max_length=64)] = ""


class Held(Message):
    """Readings of the sensor.

    Attributes:
        number: counts this phone's messages of this kind, from 1.
        at_s: when each was taken, on the phone's clock.
        quaternions: of each, x, y, z and w, from the phone's axes to those of the earth (W3C
            Orientation Sensor); empty where it gave angles.
        angles: of each, alpha, beta and gamma in degrees (W3C Device Orientation and Motion).
    """

    type: Literal["held"]
    number: Number
    at_s: Annotated[tuple[Seconds, ...], Field(max_length=MOST_READINGS)]
    quaternions: Annotated[
        tuple[tuple[Fraction, Fraction, Fraction, Fraction], ...], Field(max_length=MOST_READINGS)
    ] = ()
    angles: Annotated[tuple[tuple[Angle, Angle, Angle], ...], Field(max_length=MOST_READINGS)] = ()

    @model_validator(mode="after")
    def _all_of_one_kind(self) -> Held:
        if len(self.at_s) != len(self.quaternions or self.angles) or (
            self.quaternions and self.angles
        ):
            raise ValueError("as many times as quaternions, or as angles")
        return self


class Hold(Message):
    """The student says how the phone is held, or has it learned.

    ``come``: it is the hand of a student in a room, held as it was the last time, or else the easy
    way; ``easy``: its top edge is the nose and its screen is up; ``learn``: from poses that are
    shown next; ``held``: this pose is held now (else it is seen by its being steady); ``leave``: it
    is no hand any more.
    """

    type: Literal["hold"]
    do: Literal["come", "easy", "learn", "held", "leave"]
    phone: Annotated[str, StringConstraints(max_length=64)] = ""


class Sensing(Message):
    """What became of the sensor.

    ``reads``: it gives readings; ``none``: this phone has none, or its browser shows none;
    ``refused``: the student did not allow it; ``unasked``: the student is still to be asked, which
    takes a press; ``hidden``: the page is not seen, so nothing is read.
    """

    type: Literal["sensing"]
    what: Literal["reads", "none", "refused", "unasked", "hidden"]


class Welcome(Message):
    """To a phone: it is the hand of this rehearsal.

    Attributes:
        token: what it comes back with.
    """

    type: Literal["welcome"] = "welcome"
    token: str


class Kept(Message):
    """To a phone: readings up to this number have been taken, and need not be kept.

    Attributes:
        number: of the message; one that is sent twice is taken once.
    """

    type: Literal["kept"] = "kept"
    number: int


class Holding(Message):
    """To a phone that is a hand: what it is to show, large.

    Attributes:
        state: where the rehearsal stands, or that it is being learned how the phone is held.
        words: that, for people.
        hint: what to do, a sentence; "" for nothing.
        trouble: what is wrong with the sensor, a sentence; "" where all is well.
        pose: which pose is asked for while it is learned how the phone is held; "" else.
        attitude: how it is held now, in words; "" where that is not known, or is not to be seen.
        pitch_deg: the same; None likewise.
        bank_deg: likewise.
    """

    type: Literal["holding"] = "holding"
    state: Stage | Literal["learning"]
    words: str
    hint: str = ""
    trouble: str = ""
    pose: Literal["", "level", "nose up", "bank right"] = ""
    attitude: str = ""
    pitch_deg: float | None = None
    bank_deg: float | None = None


FromHand = Come | ClockAnswer | Held | Hold | Sensing
from_hand: TypeAdapter[FromHand] = TypeAdapter(Annotated[FromHand, Field(discriminator="type")])
