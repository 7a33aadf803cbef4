"""What the student said the numbers are, against what they are there."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.flight.asked import is_right, off, right
from coach.flight.moment import Moment
from coach.script.asked import Asked
from coach.taps.pressing import TENS
from coach.taps.tap import Tap

NOW_S = 1.5
"""An answer up to so long after its checkpoint is still for it, and later for the next one; one so
near to its checkpoint means "now" as well (a guess of ours)."""

MOST: Mapping[Asked, float] = {
    "bank": 90.0,
    "speed": 400.0,
    "heading": 360.0,
    "altitude": 25_000.0,
    "pitch": 90.0,
}
"""Number keys count in tens, but 15 for 15 degrees is typed as well: what would be more than this
was typed in full."""


@dataclass(frozen=True)
class Answer:
    """One number a student gave.

    Attributes:
        asked: which number.
        value: what the student said, without a sign.
        belongs: what is true there, without a sign.
        how: by a key or by voice.
        right: whether it is close enough.
    """

    asked: Asked
    value: float
    belongs: float
    how: Literal["key", "voice"]
    right: bool

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
        # A heading has three figures, and north is 360 (common practice, no source).
        return f"{round(value) % 360 or 360:03d}" if self.asked == "heading" else f"{value:,.0f}"


def answers(
    moments: Sequence[Moment], planned_s: Sequence[float], taps: Sequence[Tap]
) -> tuple[tuple[Answer, ...], ...]:
    """The numbers given for each checkpoint.

    A number is given on the way to its checkpoint or just after it. Several are taken in the order
    in which the checkpoint asks for them, but one that is right for a later question answers that.

    Args:
        moments: the checkpoints.
        planned_s: when they were due, increasing.
        taps: what the student did, on the same clock, in time.
    """
    given: list[list[Tap]] = [[] for _ in moments]
    for tap in taps:
        index = bisect_left(planned_s, tap.time_s - NOW_S)
        if tap.value is not None and index < len(moments):
            given[index].append(tap)
    return tuple(_answered(*one) for one in zip(moments, given, strict=True))


def _answered(moment: Moment, taps: Sequence[Tap]) -> tuple[Answer, ...]:
    asked = list(moment.asks)
    found = []
    for tap in taps[: len(asked)]:
        candidates = [_answer(moment, question, tap) for question in asked]
        answer = next((one for one in candidates if one.right), candidates[0])
        asked.remove(answer.asked)
        found.append(answer)
    return tuple(found)


def _answer(moment: Moment, asked: Asked, tap: Tap) -> Answer:
    belongs = abs(right(moment)[asked])
    value = abs(tap.value or 0.0)
    if tap.how == "key" and value > MOST[asked]:
        value /= TENS
    # A key that counts in tens cannot say it any nearer.
    rounded = tap.how == "key" and off(asked, value, belongs) <= TENS / 2
    return Answer(asked, value, belongs, tap.how, rounded or is_right(asked, value, belongs))
