"""The errors of a run, the largest first, by what they are against the student's standard."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from coach.debrief.astray import astray
from coach.debrief.error import Error, Kind
from coach.debrief.hand import Hand
from coach.debrief.verdict import Verdict, by_name
from coach.words import numbered

MISSED = 2.0
"""A missed checkpoint weighs as an error of twice its limit does: nobody knows how far off it was,
only that it is no slip within the limits; a worse error that is known still comes before it (a
guess of ours)."""

AT_THE_LIMIT = 1.0
"""A late answer, or a name out of order, weighs as an error at its limit does (a guess of ours)."""

MOST = 3

NOTABLE = 1.0 / 3.0
"""A tap that is off by a smaller share of its limit is let pass: 3 degrees of heading, 3 kt or
30 ft (a guess of ours)."""


def errors(verdicts: Sequence[Verdict], hand: Hand | None = None) -> list[Error]:
    """Every error, the largest first; none that is on time and right, or was not perceived.

    A tap weighs by the largest of its heading, speed and altitude against their limits, and a wrong
    number by how far off it is against its own; see `coach.debrief.limits`. The same checkpoint
    missed, or the same wrong thing said or held at it, in several loops is one error. What was
    missed only as far as closed ears can tell comes last.

    Args:
        verdicts: of a run.
        hand: what the hand did in all of it.
    """
    several = len({verdict.loop for verdict in verdicts}) > 1
    found = [*_errors(verdicts, several=several), *astray(verdicts, hand)]
    return sorted(found, key=lambda error: error.rank, reverse=True)


def notable(verdicts: Sequence[Verdict], hand: Hand | None = None) -> list[Error]:
    """The same without taps whose error is too small to be spoken of."""
    found = errors(verdicts, hand)
    return [one for one in found if one.kind not in ("tap", "beside") or one.share >= NOTABLE]


def largest(verdicts: Sequence[Verdict], hand: Hand | None = None) -> tuple[str, ...]:
    """The words of the largest errors that are worth it, the largest first, `MOST` of them."""
    return tuple(error.words for error in notable(verdicts, hand)[:MOST])


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
            if verdict.answered and verdict.timed == "late":
                late: tuple[Kind, str] = ("late answer", "answered late")
                said.setdefault(late, []).append((AT_THE_LIMIT, verdict))
        for (kind, words), where in said.items():
            share = max(share for share, _ in where)
            yield error(kind, share, [verdict for _, verdict in where], words)
        for verdict in some:
            if not verdict.meaning:
                continue
            off, share, meaning = verdict.error_s, verdict.share or 0.0, verdict.meaning
            if verdict.flown is None:
                yield replace(error("tap", share, [verdict], meaning), off_s=off)
                continue
            done = "called" if verdict.how == "voice" else "tapped"
            also = f"{done} {abs(off or 0.0):.1f} s {verdict.timed}"
            right = ", the hand on time" if verdict.flown.word == "on time" else ""
            do = (
                f"Your hand is where it belongs and your {'call' if done == 'called' else 'tap'} "
                f"is not: at {verdict.name} you {also}, so let the two come together."
            )
            beside = error("beside", share, [verdict], f"{also}{right}")
            yield replace(beside, do=do, off_s=off)
