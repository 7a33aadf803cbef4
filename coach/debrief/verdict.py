"""The verdict on a checkpoint, and what that is in the airplane."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from coach.debrief.answers import Answer
from coach.taps.unheard import Why
from coach.words import listed

if TYPE_CHECKING:
    from coach.debrief.flown import Flown

Word = Literal["on time", "early", "late", "wrong", "missed", "not perceived"]
"""Of a checkpoint. Where the hand was seen, it is the hand's, and taps and names stand beside it.
"wrong" is one whose number is wrong though all else is right, where what belongs was never flown,
or that was given another one's name; "not perceived" is no mistake: what the student did there is
not known."""

Timed = Literal["early", "on time", "late"]


@dataclass(frozen=True)
class Verdict:
    """On one checkpoint the run got to; times in the student's own seconds unless they say flight.

    Attributes:
        loop: which repetition of the maneuver's legs, from 1.
        name: the checkpoint's name in the script.
        flight_s: when it was due on the flight's clock.
        planned_s: when it was due, from the first moment of the maneuver.
        word: the verdict in a word.
        flown: what the hand held there; None where none was seen.
        timed: when it was tapped, named or answered, in a word, whatever the hand did; an answer is
            late once its checkpoint has come. None where nothing of that was done.
        tapped_s: when it was tapped, or named; None if it was not, as are the six that follow.
        how: by a key or by voice.
        error_s: tapped minus planned, early negative.
        heading_deg: how much further round the airplane was at the tap, short of it negative; see
            `coach.debrief.limits.off`.
        speed_kt: indicated airspeed at the tap less that at the checkpoint, from the trace; None
            without a trace.
        altitude_ft: the same of the altitude.
        share: how large that is: the largest of the three as a share of its limit.
        answers: the numbers given for it.
        misnamed: the names that were said there and belong elsewhere.
        unheard: why something there was not perceived. What was said there besides is here only as
            far as it is right. One that is missed all the same may have been answered while the
            coach still asked; see `coach.debrief.doubt`.
    """

    loop: int
    name: str
    flight_s: float
    planned_s: float
    word: Word
    flown: Flown | None = None
    timed: Timed | None = None
    tapped_s: float | None = None
    how: Literal["key", "voice"] | None = None
    error_s: float | None = None
    heading_deg: float | None = None
    speed_kt: float | None = None
    altitude_ft: float | None = None
    share: float | None = None
    answers: tuple[Answer, ...] = ()
    misnamed: tuple[str, ...] = ()
    unheard: tuple[Why, ...] = ()

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
    def in_the_airplane(self) -> str:
        """The size of its error as a pilot sees it: ``"4° of heading, 12 kt and 40 ft"``; or ""."""
        heading, speed = (round(abs(one or 0.0)) for one in (self.heading_deg, self.speed_kt))
        feet = 10 * round(abs(self.altitude_ft or 0.0) / 10.0)
        parts = [f"{heading}° of heading"] if heading else []
        parts += [f"{speed} kt"] if speed else []
        parts += [f"{feet:,} ft"] if feet else []
        return listed(parts)

    @property
    def meaning(self) -> str:
        """``"0.5 s late is 4° of heading and 1 kt"``; "" where there is nothing to say.

        Without the airplane where that is nothing there: ``"0.5 s late"``.
        """
        if self.error_s is None or self.timed not in ("early", "late"):
            return ""
        there = self.in_the_airplane
        return f"{abs(self.error_s):.1f} s {self.timed}{' is ' if there else ''}{there}"

    @property
    def unanswered(self) -> bool:
        """Whether it is missed only as far as ears can tell that its question had closed."""
        return self.word == "missed" and bool(self.unheard)

    @property
    def wrong(self) -> tuple[Answer, ...]:
        """The answers that are not right."""
        return tuple(answer for answer in self.answers if not answer.right)


def by_name(verdicts: Iterable[Verdict]) -> dict[str, list[Verdict]]:
    """The verdicts of each checkpoint, all loops together, in the order of a loop."""
    found: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        found.setdefault(verdict.name, []).append(verdict)
    return found
