"""The errors of a run, the largest first, by what they are against the student's standard."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.debrief.verdict import Verdict, by_name
from coach.words import numbered

MISSED = 2.0
"""A missed checkpoint weighs as an error of twice its limit does: nobody knows how far off it was,
only that it is no slip within the limits; a worse error that is known still comes before it (a
guess of ours)."""

AT_THE_LIMIT = 1.0
"""A late answer, or a name out of order, weighs as an error at its limit does (a guess of ours)."""

NOTABLE = 1.0 / 3.0
"""A tap that is off by a smaller share of its limit is let pass: 3 degrees of heading, 3 kt or
30 ft (a guess of ours)."""

Kind = Literal["tap", "missed", "wrong", "late answer", "name", "unanswered"]


@dataclass(frozen=True)
class Error:
    """One error; the same one in several loops is one.

    Attributes:
        kind: what went wrong; "unanswered" is missed where `Verdict.unanswered` is.
        share: how large it is, the largest of its loops: 1 is at the limit.
        verdicts: where it was made.
        what: such as ``"0.5 s late is 4° of heading and 1 kt"``.
        words: the same with where it was made: ``"loop 2, 90: 0.5 s late is..."``.
    """

    kind: Kind
    share: float
    verdicts: tuple[Verdict, ...]
    what: str
    words: str

    @property
    def name(self) -> str:
        """Its checkpoint."""
        return self.verdicts[0].name

    @property
    def rank(self) -> tuple[float, int, float]:
        """By the standard first, then by how often it was made, and only then by seconds."""
        seconds = max(abs(verdict.error_s or 0.0) for verdict in self.verdicts)
        return self.share, len(self.verdicts), seconds if self.kind == "tap" else 0.0


def errors(verdicts: Sequence[Verdict]) -> list[Error]:
    """Every error, the largest first; none that is on time and right, or was not perceived.

    A tap weighs by the largest of its heading, speed and altitude against their limits, and a wrong
    number by how far off it is against its own; see `coach.debrief.limits`. The same checkpoint
    missed, or the same wrong thing said at it, in several loops is one error. What was missed only
    as far as closed ears can tell comes last.
    """
    several = len({verdict.loop for verdict in verdicts}) > 1
    return sorted(_errors(verdicts, several=several), key=lambda error: error.rank, reverse=True)


def notable(verdicts: Sequence[Verdict]) -> list[Error]:
    """The same without taps whose error is too small to be spoken of."""
    return [one for one in errors(verdicts) if one.kind != "tap" or one.share >= NOTABLE]


def largest(verdicts: Sequence[Verdict], most: int = 3) -> tuple[str, ...]:
    """The words of the largest errors that are worth it, the largest first."""
    return tuple(error.words for error in notable(verdicts)[:most])


def _errors(verdicts: Sequence[Verdict], *, several: bool) -> Iterator[Error]:
    def error(kind: Kind, share: float, some: Sequence[Verdict], what: str) -> Error:
        loops = f"{numbered('loop', [verdict.loop for verdict in some])}, " if several else ""
        return Error(kind, share, tuple(some), what, f"{loops}{some[0].name}: {what}")

    for some in by_name(verdicts).values():
        missed = [verdict for verdict in some if verdict.word == "missed"]
        if known := [verdict for verdict in missed if not verdict.unanswered]:
            yield error("missed", MISSED, known, "missed")
        if unanswered := [verdict for verdict in missed if verdict.unanswered]:
            yield error("unanswered", 0.0, unanswered, "missed")
        said: dict[tuple[Kind, str], list[tuple[float, Verdict]]] = {}
        for verdict in some:
            for answer in verdict.wrong:
                said.setdefault(("wrong", answer.words), []).append((answer.share, verdict))
            for name in verdict.misnamed:
                words = f"“{name}” was said there"
                said.setdefault(("name", words), []).append((AT_THE_LIMIT, verdict))
            if verdict.answered and verdict.word == "late":
                late: tuple[Kind, str] = ("late answer", "answered late")
                said.setdefault(late, []).append((AT_THE_LIMIT, verdict))
        for (kind, words), where in said.items():
            share = max(share for share, _ in where)
            yield error(kind, share, [verdict for _, verdict in where], words)
        for verdict in some:
            if verdict.meaning:
                yield error("tap", verdict.share or 0.0, [verdict], verdict.meaning)
