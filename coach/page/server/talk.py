"""What is said on every WebSocket, whoever is at its other end.

One JSON object is one message, told apart by its ``type``. Times named ``..._s`` of a browser are
its ``performance.now() / 1000``. It answers every `Ask` at once with a `ClockAnswer`, by which its
clock is learned (`coach.page.server.clocks`), and is told by `Settled` how well it is known.

A message that is not as described closes the connection with code 1008; one larger than
`limits.MESSAGE_BYTES` with 1009. A connection that is closed after `Refused` is not to come back by
itself; any other comes back after a second or two.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from coach.page.server.replies import Message

Number = Annotated[int, Field(ge=0, le=1_000_000)]
Seconds = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
Secret = Annotated[str, StringConstraints(min_length=1, max_length=64)]


class ClockAnswer(Message):
    """From a browser: the answer to an `Ask`, at once.

    Attributes:
        number: the question's.
        received_s: when it came, on the browser's clock.
        answered_s: when this was sent, on the same clock.
    """

    type: Literal["answer"]
    number: Number
    received_s: Seconds
    answered_s: Seconds


class Ask(Message):
    """To a browser: what does your clock say? A few quickly at first, then every two seconds."""

    type: Literal["ask"] = "ask"
    number: int


class Settled(Message):
    """To a browser: its clock is known, so what it tells can be taken; again when it changes.

    Attributes:
        uncertainty_ms: half the width of what its offset may be.
    """

    type: Literal["settled"] = "settled"
    uncertainty_ms: float


class Refused(Message):
    """To a browser, before the connection is closed: one sentence why.

    Attributes:
        why: for the person.
        again: whether they may try again at once with something else (a code, a name).
        gone: whether the name is that of somebody whose phone is gone: `messages.Join` with
            ``back`` goes on in their place.
    """

    type: Literal["refused"] = "refused"
    why: str
    again: bool = False
    gone: bool = False


class Note(Message):
    """To a browser: one sentence; an empty one takes the last away."""

    type: Literal["note"] = "note"
    text: str
