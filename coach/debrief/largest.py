"""The largest errors of a run, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.debrief.verdict import Verdict, by_name
from coach.taps.timing import WINDOW_S
from coach.words import numbered

WRONG_S = 1.0
"""A wrong number, a late answer or a name out of order weighs as much as a tap so far off (a guess
of ours)."""


def largest(verdicts: Sequence[Verdict], most: int = 3) -> tuple[str, ...]:
    """The largest errors, the largest first, none that is on time and right, or unclear.

    A missed checkpoint weighs as much as the tap furthest off that would have been its own. The
    same checkpoint missed, or the same wrong thing said at it, in several loops is one error.

    Args:
        verdicts: the checkpoints.
        most: how many errors at most.

    Returns:
        Such as ``"loop 2, 90: 0.5 s late is 4 degrees of heading and 1 knot"``.
    """
    several = len({verdict.loop for verdict in verdicts}) > 1
    found = sorted(_errors(verdicts, several=several), key=lambda error: -error[0])
    return tuple(words for _, words in found[:most])


def _errors(verdicts: Sequence[Verdict], *, several: bool) -> Iterator[tuple[float, str]]:
    """Every error with its weight in seconds."""

    def where(some: Sequence[Verdict]) -> str:
        place = f"{numbered('loop', [verdict.loop for verdict in some])}, " if several else ""
        return f"{place}{some[0].name}"

    for some in by_name(verdicts).values():
        if missed := [verdict for verdict in some if verdict.word == "missed"]:
            yield WINDOW_S * len(missed), f"{where(missed)}: missed"
        wrong: dict[str, list[Verdict]] = {}
        for verdict in some:
            said = [f"“{name}” was said there" for name in verdict.misnamed]
            late = ["answered late"] if verdict.answered and verdict.word == "late" else []
            for words in (*(answer.words for answer in verdict.wrong), *said, *late):
                wrong.setdefault(words, []).append(verdict)
        for words, where_wrong in wrong.items():
            yield WRONG_S * len(where_wrong), f"{where(where_wrong)}: {words}"
        for verdict in some:
            if verdict.meaning:
                yield abs(verdict.error_s or 0.0), f"{where([verdict])}: {verdict.meaning}"
