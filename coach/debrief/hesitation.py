"""How long a student thought before answering the coach's questions."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from coach.debrief.verdict import Verdict


@dataclass(frozen=True)
class Hesitation:
    """Own seconds from the ends of the questions to the first words of the answers.

    Attributes:
        answers: how many there were.
        median_s: of all of them.
        slowest_s: the longest.
        slowest: the checkpoint where that was.
        loop: and its loop; None where there is only one.
    """

    answers: int
    median_s: float
    slowest_s: float
    slowest: str
    loop: int | None

    @property
    def words(self) -> str:
        """``"1.2 s after the question (median of 16); the slowest 3.4 s, loop 3, 135"``."""
        if self.answers == 1:
            return f"{self.median_s:.1f} s after the question."
        where = self.slowest if self.loop is None else f"loop {self.loop}, {self.slowest}"
        return (
            f"{self.median_s:.1f} s after the question (median of {self.answers}); the slowest "
            f"{self.slowest_s:.1f} s, {where}."
        )


def hesitation(verdicts: Sequence[Verdict]) -> Hesitation | None:
    """The hesitation over all checkpoints of a run; None where no question was answered aloud."""
    found = [
        (verdict.hesitation_s, verdict)
        for verdict in verdicts
        # Where something was not perceived, it may have been a quicker answer.
        if verdict.hesitation_s is not None and not verdict.unheard
    ]
    if not found:
        return None
    longest, slowest = max(found, key=lambda one: one[0])
    return Hesitation(
        answers=len(found),
        median_s=statistics.median(seconds for seconds, _ in found),
        slowest_s=longest,
        slowest=slowest.name,
        loop=slowest.loop if len({verdict.loop for verdict in verdicts}) > 1 else None,
    )
