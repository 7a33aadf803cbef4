"""What the page of somebody alone says over ``/ws/watch`` while a phone is the airplane.

See `coach.page.server.talk` for what is said on every WebSocket. The page sends `Watch` first and
answers every `Ask`; `Heard` tells about four times a second, and at once when the sound starts or
pauses, what is heard, so that what the phone reads can be put there. It is told how the phone
stands (`Phone`) whenever that changes and, ten times a second while it is flown, what the hand does
(`Now`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter

from coach.page.server.replies import Message
from coach.page.server.talk import ClockAnswer, Seconds, Secret


class Watch(Message):
    """The page comes in; another one that watched is refused from then on.

    Attributes:
        key: the secret in the page's address.
        sounding: this page is in the middle of an attempt, and lost only its connection. Where it
            is not, one that was going on is flown no more.
    """

    type: Literal["watch"]
    key: Secret
    sounding: bool = False


class Heard(Message):
    """What is heard of an attempt.

    Attributes:
        run: the attempt, as ``POST /api/attempts`` named it.
        position_s: the position of the soundtrack that was heard...
        at_s: ...at this time of the page's clock.
        playing: whether it goes on from there, or stands.
    """

    type: Literal["heard"]
    run: Annotated[str, StringConstraints(max_length=64)]
    position_s: Seconds
    at_s: Seconds
    playing: bool


class Phone(Message):
    """To the page: how the phone stands.

    Attributes:
        joined: whether one has come in.
        words: how it stands, for people.
        trouble: what is wrong with it, a sentence; "" where all is well.
    """

    type: Literal["phone"] = "phone"
    joined: bool
    words: str
    trouble: str


class Now(Message):
    """To the page: what the hand does.

    Attributes:
        pitch_deg: how it holds the airplane, from level flight at entry, up positive; None where
            that is not known, or not to be shown at this support.
        bank_deg: likewise, right positive.
        off: whether it is off the plan by more than the student wants to be told, and was so for
            more than a moment.
    """

    type: Literal["now"] = "now"
    pitch_deg: float | None = None
    bank_deg: float | None = None
    off: bool = False


class Anew(Message):
    """To the page: readings that came late have been kept, and that run is judged anew."""

    type: Literal["anew"] = "anew"
    number: int


FromPage = Watch | ClockAnswer | Heard
from_page: TypeAdapter[FromPage] = TypeAdapter(Annotated[FromPage, Field(discriminator="type")])
