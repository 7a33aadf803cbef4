"""How the next run is flown: how much the coach says, and how fast; one step at a time.

Guidance that is always there is leaned on, and fading it makes the skill stay (R. A. Schmidt's
guidance hypothesis, from memory). The rule:

- No run yet: everything, at full pace.
- Two good runs in a row with the same support at full pace: one step less support. One is enough
  with little support (see `coach.callouts.support`) where the hand was seen at most checkpoints
  and right at nearly all: a tap may answer a tone, what was flown answers none.
- A slipped run: one step more support, and where there is none, one step slower.
- A good run below full pace: one step faster; above it, back to it; and the support stays. So only
  one thing changes at a time, and only runs that govern (`coach.debrief.governing`) take support
  away.
- Else the same again.

Only finished runs with a tap are looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from coach.callouts.support import SUPPORTS, Support, support_words
from coach.debrief.gauging import Summary, pace_words
from coach.debrief.governing import governs, tells
from coach.logbook.run import Score

GOOD, SLIPPED = 0.8, 0.5
"""A run is good with at least so many of its checkpoints on time: more than three of four, for one
that goes wrong in every loop is a habit. With fewer than half it slipped (a guess of ours)."""

IN_A_ROW = 2

WELL = 0.9
"""One run by hand is enough with so much of it on time: a loop of a lazy eight that went wrong is
18 % of it (a guess of ours)."""

PACE_STEPS = (0.5, 0.75, 1.0)

_LEVELS = tuple(SUPPORTS)


@dataclass(frozen=True)
class NextRun:
    """How to fly the next run.

    Attributes:
        support: one of `SUPPORTS`.
        pace: 1 is the airplane's own tempo.
        reason: why, as one sentence.
    """

    support: Support
    pace: float
    reason: str

    @property
    def words(self) -> str:
        """``"tones only, at full pace"``."""
        return f"{support_words(self.support)}, {pace_words(self.pace)}"


def next_support(recent: Iterable[Summary]) -> tuple[Support, str]:
    """How much the coach shall say in the next run, and why.

    Args:
        recent: one student's runs of one maneuver, newest first.

    Returns:
        One of `SUPPORTS`, and one sentence.
    """
    found = next_run(recent)
    return found.support, found.reason


def next_run(recent: Iterable[Summary]) -> NextRun:
    """How the next run is flown, by the rule above.

    Args:
        recent: one student's runs of one maneuver, newest first.
    """
    counted = [(run, share(found)) for run in recent if (found := tells(run))]
    if not counted:
        return NextRun(_LEVELS[0], 1.0, "Nothing to go by yet, so the coach says everything.")
    run, latest = counted[0]
    level = next((index for index, one in enumerate(_LEVELS) if one == run.support), 0)
    support, pace = _LEVELS[level], run.pace
    figures = f"{100 * latest:.0f} % on time"
    if latest < SLIPPED:
        if level:
            return NextRun(_LEVELS[level - 1], pace, f"The last run slipped ({figures}).")
        slower = [one for one in PACE_STEPS if one < pace]
        if slower:
            return NextRun(
                support,
                slower[-1],
                f"The last run slipped ({figures}): fly it {pace_words(slower[-1])}.",
            )
        return NextRun(support, pace, f"The last run slipped ({figures}): the same once more.")
    if latest < GOOD:
        wanted = f"{100 * GOOD:.0f} %"
        return NextRun(support, pace, f"The last run was fair ({figures}, good from {wanted} on).")
    if pace < 1.0:
        faster = next(one for one in PACE_STEPS if one > pace)
        return NextRun(support, faster, f"The last run was good ({figures}): on to a faster one.")
    if pace > 1.0:
        return NextRun(support, 1.0, f"The last run was good ({figures}): now at full pace.")
    score = governs(run)
    by_hand = score is not None and 2 * score.flown > score.checkpoints
    well = by_hand and SUPPORTS[support].counts and latest >= WELL
    enough = 1 if well else IN_A_ROW
    row = [
        one.support == run.support and governs(one) and good >= GOOD
        for one, good in counted[:enough]
    ]
    if support == _LEVELS[-1]:
        return NextRun(support, pace, f"The last run was good ({figures}), with the least support.")
    if len(row) == enough and all(row):
        why = "Two good runs in a row" if enough > 1 else f"Flown well by hand ({figures})"
        return NextRun(_LEVELS[level + 1], pace, f"{why}: the coach says less.")
    return NextRun(
        support, pace, f"The last run was good ({figures}): another one, and the coach says less."
    )


def share(score: Score) -> float:
    """The share of checkpoints on time, 0 to 1."""
    return score.on_time / score.checkpoints
