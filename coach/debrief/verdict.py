"""The verdict on a checkpoint: early, late, on time or missed, and what that is in the airplane."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from coach.debrief.answers import Answer
from coach.words import counted, listed

Word = Literal["early", "late", "on time", "missed", "unclear"]
"""Of a checkpoint; "unclear" is something that was said there and not understood: no mistake."""


@dataclass(frozen=True)
class Verdict:
    """On one checkpoint the run got to; times in the student's own seconds unless they say flight.

    Attributes:
        loop: which repetition of the maneuver's legs, from 1.
        name: the checkpoint's name in the script.
        flight_s: when it was due on the flight's clock.
        planned_s: when it was due, from the first moment of the maneuver.
        word: the verdict in a word; an answer is late once its checkpoint has come.
        tapped_s: when it was tapped, or named; None if it was not, as are the four that follow.
        how: by a key or by voice.
        error_s: tapped minus planned, early negative.
        heading_deg: how much further round the airplane was at the tap, short of it negative:
            the error in the flight's seconds times the turn rate at the checkpoint.
        speed_kt: indicated airspeed at the tap less that at the checkpoint, from the trace; None
            without a trace.
        answers: the numbers given for it.
        misnamed: the names that were said there and belong elsewhere.
    """

    loop: int
    name: str
    flight_s: float
    planned_s: float
    word: Word
    tapped_s: float | None = None
    how: Literal["key", "voice"] | None = None
    error_s: float | None = None
    heading_deg: float | None = None
    speed_kt: float | None = None
    answers: tuple[Answer, ...] = ()
    misnamed: tuple[str, ...] = ()

    @property
    def hesitation_s(self) -> float | None:
        """Own seconds from its question to the first word of an answer; None without one."""
        found = [one.hesitation_s for one in self.answers if one.hesitation_s is not None]
        return min(found, default=None)

    @property
    def answered(self) -> bool:
        """Whether it was done by answering its question, and not by tapping or naming it."""
        return self.tapped_s is None and self.hesitation_s is not None

    @property
    def meaning(self) -> str:
        """``"0.5 s late is 4 degrees of heading and 1 knot"``; "" where there is nothing to say."""
        if self.error_s is None or self.heading_deg is None or self.word == "on time":
            return ""
        size = in_the_airplane(self.heading_deg, self.speed_kt)
        return f"{abs(self.error_s):.1f} s {self.word} is {size}"

    @property
    def wrong(self) -> tuple[Answer, ...]:
        """The answers that are not right."""
        return tuple(answer for answer in self.answers if not answer.right)

    @property
    def counts(self) -> bool:
        """Whether it was done on time, and where it was done by answering, rightly."""
        return self.word == "on time" and (self.tapped_s is not None or not self.wrong)


def by_name(verdicts: Iterable[Verdict]) -> dict[str, list[Verdict]]:
    """The verdicts of each checkpoint, all loops together, in the order of a loop."""
    found: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        found.setdefault(verdict.name, []).append(verdict)
    return found


def in_the_airplane(heading_deg: float, speed_kt: float | None) -> str:
    """The size of an error as a pilot sees it: ``"4 degrees of heading and 1 knot"``."""
    heading, speed = round(abs(heading_deg)), round(abs(speed_kt or 0.0))
    parts = [f"{counted(heading, 'degree')} of heading"] if heading else []
    parts += [counted(speed, "knot")] if speed else []
    return listed(parts) or "less than a degree of heading"
