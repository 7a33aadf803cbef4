"""Whether it is getting better: the share of checkpoints on time, run by run at full pace."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from coach.debrief.gauging import Summary, pace_words
from coach.debrief.governing import governs
from coach.debrief.next_run import share
from coach.debrief.readiness import NINE_IN_TEN, design_effect
from coach.logbook.run import Score

LAST_RUNS = 12
ENOUGH = 4
"""With fewer runs a difference between the earlier and the later is not spoken of."""

BLOCKS = "▁▂▃▄▅▆▇█"


@dataclass(frozen=True)
class Trend:
    """The last runs that govern.

    Attributes:
        shares: of the checkpoints on time in each run, 0 to 1, oldest first.
        words: what they say, a sentence.
    """

    shares: tuple[float, ...]
    words: str

    @property
    def spark(self) -> str:
        """The shares as one block character each, from an empty to a full one."""
        return "".join(
            BLOCKS[min(int(share * len(BLOCKS)), len(BLOCKS) - 1)] for share in self.shares
        )


def trend(recent: Iterable[Summary]) -> Trend:
    """How the runs that govern went.

    The earlier half is held against the later one: better or worse is said where the shares differ
    by more than one in twenty runs of chance would, allowing for runs that differ among themselves.

    Args:
        recent: one student's runs of one maneuver, newest first; those that do not govern are left
            out.
    """
    found = [score for run in recent if (score := governs(run))][:LAST_RUNS]
    scores = found[::-1]
    return Trend(tuple(map(share, scores)), _words(scores))


def _words(scores: list[Score]) -> str:
    where = pace_words(1.0)
    if not scores:
        return f"No finished run with taps {where} yet."
    if len(scores) == 1:
        return f"The first finished run {where}."
    if len(scores) < ENOUGH:
        shares = ", then ".join(f"{100 * share(score):.0f} %" for score in scores)
        return f"On time {where}: {shares}."
    earlier, later = scores[: len(scores) // 2], scores[len(scores) // 2 :]
    before, after = _pooled(earlier), _pooled(later)
    change = after[0] - before[0]
    both = _pooled(scores)[0]
    spread = max(design_effect(earlier), design_effect(later))
    chance = math.sqrt(both * (1.0 - both) * spread * (1.0 / before[1] + 1.0 / after[1]))
    figures = (
        f"{where} {100 * before[0]:.0f} % on time in the first {len(earlier)} of {len(scores)} "
        f"runs, {100 * after[0]:.0f} % since"
    )
    if abs(change) <= NINE_IN_TEN * chance:
        return f"No clear change: {figures}."
    return f"{'Getting better' if change > 0 else 'Getting worse'}: {figures}."


def _pooled(scores: list[Score]) -> tuple[float, int]:
    """The share on time of runs taken together, and of how many checkpoints."""
    count = sum(score.checkpoints for score in scores)
    return sum(score.on_time for score in scores) / count, count
