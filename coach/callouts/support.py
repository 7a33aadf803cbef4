"""Support: the one table of how much the coach says, and of all that differs by it.

A new level is a row here. It imports nothing, because the command line reads it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

Shows = Literal["everything", "no numbers", "nothing ahead"]
"""What a screen shows of the flight: "no numbers" leaves the figures to the student, "nothing
ahead" the attitude and the time to the next checkpoint as well."""


@dataclass(frozen=True, kw_only=True)
class SupportLevel:
    """How much the coach says in a run.

    Attributes:
        words: what it is called in a debrief: ``"tones only"``.
        short: the same in a list or after "with": ``"tones"``.
        choice: the same for somebody who chooses it: ``"only tones"``.
        kinds: which of a script's callouts are said, of `coach.callouts.placement.KINDS`.
        asks: whether the coach asks for each checkpoint's numbers, gives them, and replies.
        tones: whether a tone sounds on each checkpoint, and ticks before it.
        shows: what a screen shows. What the coach no longer says it no longer shows: eyes would
            lean on it as ears did.
        own: whether a screen shows the attitude of a student's own hand beside the planned one, to
            be followed. At less than everything it is told in the debrief alone: guidance that is
            always there is leaned on.
        counts: how much a run says about the student being ready, 0 to 1: fully where the student
            was alone with the airplane, not at all where the coach names the checkpoints.
    """

    words: str
    short: str
    choice: str
    kinds: tuple[str, ...] = ()
    asks: bool = False
    tones: bool = True
    shows: Shows
    own: bool = False
    counts: float = 0.0


SUPPORTS: Mapping[str, SupportLevel] = {
    "everything": SupportLevel(
        words="everything said",
        short="everything",
        choice="everything: calls, numbers and tones",
        kinds=("safety", "checkpoint", "command", "control", "number"),
        shows="everything",
        own=True,
    ),
    "checkpoints": SupportLevel(
        words="checkpoints only",
        short="checkpoints",
        choice="only the checkpoints, and tones",
        kinds=("safety", "checkpoint"),
        shows="everything",
    ),
    "asking": SupportLevel(
        words="the coach asking",
        short="asking",
        choice="it asks, I answer aloud",
        kinds=("safety",),
        asks=True,
        shows="no numbers",
        counts=0.5,
    ),
    "tones": SupportLevel(
        words="tones only",
        short="tones",
        choice="only tones",
        shows="nothing ahead",
        counts=0.5,
    ),
    "start": SupportLevel(
        words="nothing but the start",
        short="only the start",
        choice="only the start",
        tones=False,
        shows="nothing ahead",
        counts=1.0,
    ),
}
"""Every level by its name, from most to least. What counts how much is a guess of ours."""

if TYPE_CHECKING:
    Support = str
    SupportChoice = str
else:  # for pydantic, which checks what it reads against the names
    Support = Literal[tuple(SUPPORTS)]
    SupportChoice = Literal["auto", Support]


def support_words(support: str) -> str:
    """What a run's support is called; one that this coach does not know as it is written."""
    return SUPPORTS[support].words if support in SUPPORTS else support
