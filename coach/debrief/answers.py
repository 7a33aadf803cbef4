"""What the student said the numbers are, against what they are there."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from coach.debrief.limits import limit
from coach.flight.asked import is_right, off, right
from coach.flight.moment import Moment
from coach.script.asked import ASKED, Asked
from coach.script.tolerance import Tolerance
from coach.taps.pressing import TENS
from coach.taps.tap import Tap
from coach.words import three_figures

NOW_S = 1.5
"""A number up to so long after its checkpoint is still for it, and later for the next one; one so
near to its checkpoint means "now" as well, unless it answers a question (a guess of ours)."""


@dataclass(frozen=True)
class Answer:
    """One number a student gave.

    Attributes:
        asked: which number.
        value: what the student gave, without a sign but for a pitch that was said: below level is
            negative.
        belongs: what is true there, with the same sign.
        how: by a key or by voice.
        right: whether it is close enough.
        share: how far off it is, as a share of its limit; see `coach.debrief.limits`.
        hesitation_s: the student's own seconds from the question to the answer's first word; None
            where it was not asked for, or typed.
    """

    asked: Asked
    value: float
    belongs: float
    how: Literal["key", "voice"]
    right: bool
    share: float = 0.0
    hesitation_s: float | None = None

    @property
    def words(self) -> str:
        """``"bank 20 where 30 belongs"``, or ``"bank 30"`` where it is right."""
        said = f"{self.asked} {self._shown(self.value)}"
        return said if self.right else f"{said} where {self._shown(self.belongs)} belongs"

    @property
    def short(self) -> str:
        """``"bank 20 (30)"``, or ``"bank 30"`` where it is right."""
        said = f"{self.asked} {self._shown(self.value)}"
        return said if self.right else f"{said} ({self._shown(self.belongs)})"

    def _shown(self, value: float) -> str:
        if ASKED[self.asked].is_course:
            return three_figures(value)
        way = ("below level" if value < 0.0 else "above level") if self._is_turned else ""
        return f"{abs(value):,.0f} {way}".strip()

    @property
    def _is_turned(self) -> bool:
        """Whether it is above level where below belongs, or the other way round."""
        return self.value * self.belongs < 0.0


def given(planned_s: Sequence[float], taps: Sequence[Tap]) -> tuple[tuple[Tap, ...], ...]:
    """The numbers given for each checkpoint, in time.

    Args:
        planned_s: when the checkpoints were due, increasing.
        taps: what the student did, on the same clock, in time.
    """
    found: list[list[Tap]] = [[] for _ in planned_s]
    for tap in taps:
        index = place(planned_s, tap.time_s, tap.hesitation_s)
        if tap.value is not None and index < len(planned_s):
            found[index].append(tap)
    return tuple(map(tuple, found))


def place(planned_s: Sequence[float], time_s: float, hesitation_s: float | None) -> int:
    """The index of the checkpoint that a number is for, or how many there are where it is for none.

    An answer is for the checkpoint after its question. Without a question a number is given on the
    way to its checkpoint or just after it.
    """
    return bisect_left(planned_s, time_s - (NOW_S if hesitation_s is None else hesitation_s))


def answers(
    moment: Moment, taps: Sequence[Tap], tolerances: Sequence[Tolerance] = ()
) -> tuple[Answer, ...]:
    """The numbers given for one checkpoint, in the order in which they are asked for.

    Who speaks names the quantity, or the coach's ears know it by the order; a number said again
    counts as it was said last. Typed numbers are taken in the order in which the checkpoint asks
    for them, but one that is right for a later question answers that.

    Args:
        moment: the checkpoint.
        taps: from `given`.
        tolerances: the run's.
    """

    def answer(asked: Asked, tap: Tap) -> Answer:
        return _answer(moment, asked, tap, limit(tolerances, moment.name, asked))

    found: dict[Asked, Answer] = {}
    for tap in taps:
        said = next((asked for asked in moment.asks if asked == tap.said), None)
        if said is not None:
            first = found.get(said)
            again = tap if first is None else replace(tap, hesitation_s=first.hesitation_s)
            found[said] = answer(said, again)
            continue
        candidates = [answer(asked, tap) for asked in moment.asks if asked not in found]
        if candidates and tap.said is None:
            meant = next((one for one in candidates if one.right), candidates[0])
            found[meant.asked] = meant
    return tuple(found[asked] for asked in moment.asks if asked in found)


def _answer(moment: Moment, asked: Asked, tap: Tap, within: Tolerance) -> Answer:
    belongs, value = right(moment)[asked], tap.value or 0.0
    if tap.said is None:
        belongs, value = abs(belongs), abs(value)
    if tap.how == "key" and value > ASKED[asked].most:
        value /= TENS
    # A key that counts in tens cannot say it any nearer.
    rounded = tap.how == "key" and off(asked, value, belongs) <= TENS / 2
    is_close = rounded or is_right(asked, value, belongs)
    gap = math.copysign(off(asked, value, belongs), value - belongs)
    return Answer(asked, value, belongs, tap.how, is_close, within.share(gap), tap.hesitation_s)
