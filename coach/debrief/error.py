"""One error of a run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.debrief.verdict import Verdict

Kind = Literal[
    "tap",
    "missed",
    "wrong",
    "late answer",
    "name",
    "unanswered",
    "beside",
    "bank",
    "pitch",
    "came",
    "turned",
    "still",
]
"""What went wrong; "unanswered" is missed where `Verdict.unanswered` is, and "beside" a tap that is
off where the hand was seen. Of the hand: it held a bank or a pitch that is not what belongs, what
it flew came early or late, it banked to the other side, or it hardly moved."""


@dataclass(frozen=True)
class Error:
    """One error; the same one in several loops is one.

    Attributes:
        kind: what went wrong.
        share: how large it is, the largest of its loops: 1 is at the limit.
        verdicts: where it was made.
        what: such as ``"0.5 s late is 4° of heading and 1 kt"``.
        words: the same with where it was made: ``"loop 2, 90: 0.5 s late is..."``.
        do: what to do about it, a sentence; "" where `coach.debrief.advice` knows more.
        off_s: how early or late it was, own seconds, early negative; None where it was neither.
    """

    kind: Kind
    share: float
    verdicts: tuple[Verdict, ...]
    what: str
    words: str
    do: str = ""
    off_s: float | None = None

    @property
    def name(self) -> str:
        """Its checkpoint."""
        return self.verdicts[0].name

    @property
    def rank(self) -> tuple[bool, float, int, float]:
        """By the standard first, then by how often it was made, and only then by seconds.

        A tap beside a hand comes last: the airplane is where the hand flew it.
        """
        return self.kind != "beside", self.share, len(self.verdicts), abs(self.off_s or 0.0)


def often(times: int) -> str:
    """``" (3 times)"``; "" for once."""
    return f" ({times} times)" if times > 1 else ""
