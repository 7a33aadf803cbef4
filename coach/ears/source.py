"""Where the ears have their sound from."""

from __future__ import annotations

import queue
from typing import Any, Protocol

from coach.ears.recognisers.choice import choice
from coach.problems import Problem, nearest
from coach.settings import load

DEAF = "; the rehearsal goes on with taps."
MUTE = "Nothing but silence comes in: the microphone is muted, or its use is refused"


class Deaf(Problem):
    """There is no device to hear with; what is `said` of it has no end of its own."""

    def __str__(self) -> str:
        """The sentence for somebody who rehearses."""
        return f"{self.said}{DEAF}"


class Input(Protocol):
    """Where sound comes from: `coach.ears.microphone.Microphone`, or anything alike."""

    name: str
    rate: int
    blocks: queue.SimpleQueue[Any]

    @property
    def alive(self) -> bool:
        """Whether it still hands over sound, as far as it knows."""

    def start(self) -> None:
        """Begin to listen."""

    def close(self) -> None:
        """Stop."""


def open_microphone(name: str | None = None) -> Input:
    """The microphone, ready to start.

    Args:
        name: which one; None is the usual one.

    Raises:
        Deaf: there is no microphone that opens, or no PortAudio.
        Problem: no recogniser is installed, there is no microphone of that name, or no weights in
            the folder that the settings name.
    """
    choice(load().weights)
    try:
        from coach.ears.microphone import Microphone, Refused, names
    except OSError:
        raise Deaf(
            "Listening needs the PortAudio library (libportaudio2), which is not here"
        ) from None
    try:
        return Microphone(name)
    except Refused as error:
        reason = str(error).split("[")[0].strip().rstrip(".")
        why = "" if "querying device" in reason else f" or it may not be used ({reason})"
        raise Deaf(f"No microphone was found{why}") from None
    except ValueError as error:
        known = names()
        if name is None or not known:
            raise Deaf("No microphone was found") from None
        several = str(error).startswith("Multiple")
        found = f"Several microphones fit “{name}”" if several else f"Found no microphone “{name}”"
        raise Problem(f"{found}{nearest(name, known)}") from None
