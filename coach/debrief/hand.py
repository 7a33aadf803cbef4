"""What a hand did in the whole of a run, loop by loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

from coach.debrief.limits import ON_TIME_S
from coach.flight.moment import Moment
from coach.hand.drift import without_drift
from coach.hand.measured import Axis, seen
from coach.hand.motion import Motion
from coach.hand.peaks import Peak, peaks
from coach.hand.reversals import Reversal, reversals
from coach.hand.tempo import STEADY, Tempo, tempo
from coach.hand.whole import Whole, whole
from coach.logbook.run import Run


@dataclass(frozen=True)
class Loop:
    """A hand in one loop.

    Attributes:
        loop: which, from 1.
        whole: what it did in all of it; None where it was hardly seen.
        peaks: the greatest and the lowest pitch and the greatest bank, in flight seconds.
    """

    loop: int
    whole: Whole | None
    peaks: tuple[Peak, ...]

    def lag_s(self, of: Axis) -> float | None:
        """How late it was all along, in flight seconds; None where that cannot be told."""
        if self.whole is None:
            return None
        return self.whole.pitch_lag_s if of == "pitch" else self.whole.bank_lag_s


@dataclass(frozen=True)
class Hand:
    """A hand in a run; times in flight seconds.

    Attributes:
        motion: what it flew, less the drift of its hold.
        plan: what it was to fly, by the run's trace.
        pace: the run's.
        seen: the share of the run in which it was seen, 0 to 1.
        whole: what it did in all of it; None where it was hardly seen.
        tempo: its own.
        loops: the same loop by loop.
        reversals: where it went the wrong way.
    """

    motion: Motion
    plan: Motion
    pace: float
    seen: float
    whole: Whole | None
    tempo: Tempo
    loops: tuple[Loop, ...]
    reversals: tuple[Reversal, ...]

    @property
    def still(self) -> bool:
        """Whether it hardly moved where it was to move."""
        return self.whole is not None and self.whole.still

    @property
    def words(self) -> str:
        """``"2.0° of bank and 1.4° of pitch off on average (root mean square), 0.4 s late."``."""
        unseen = f"seen {100.0 * self.seen:.0f} % of the time" if self.seen < 0.995 else ""
        found = self.whole
        if found is None:
            return f"{unseen.capitalize()}."
        if self.still:
            return "It hardly moved."
        words = (
            f"{found.rms_bank_deg:.1f}° of bank and {found.rms_pitch_deg:.1f}° of pitch off on "
            "average (root mean square)"
        )
        late_s = (found.lag_s or 0.0) / self.pace
        when = f"{abs(late_s):.1f} s {'late' if late_s > 0.0 else 'early'}"
        late = when if self.tempo == STEADY and abs(late_s) > ON_TIME_S else ""
        return f"{', '.join(filter(None, (words, late, unseen)))}."

    def to_dict(self) -> dict[str, Any]:
        """Its measurements as JSON values, in flight seconds."""
        return {
            "seen": self.seen,
            "still": self.still,
            "whole": self.whole and asdict(self.whole),
            "tempo": self.tempo.slope,
            "loops": [asdict(loop) for loop in self.loops],
            "reversals": [asdict(one) for one in self.reversals],
            "words": self.words,
        }


def hand(run: Run, moments: Sequence[Moment]) -> Hand | None:
    """What the hand did; None where it was not seen at all, or the run does not tell its flight.

    Args:
        run: the run.
        moments: the checkpoints it got to, in time.
    """
    trace, moments = run.trace, [one for one in moments if one.time_s > 0.0]
    if not (run.motion and moments and trace.get("t_s")):
        return None
    plan = Motion(tuple(trace["t_s"]), tuple(trace["pitch_deg"]), tuple(trace["bank_deg"]))
    own = tempo(run.motion, plan)
    motion = without_drift(run.motion, own.followed(plan))
    if own != STEADY:  # told more exactly by a hold that does not drift
        own = tempo(motion, plan)
    stretches = seen(motion)
    if not stretches:
        return None
    # Each loop lasts until its last checkpoint; an imported run may have them in any order.
    last = sorted({one.loop: one.time_s for one in moments}.items(), key=lambda one: one[1])
    ends = [0.0, *(time_s for _, time_s in last)]
    loops = [
        Loop(
            number,
            whole(motion, plan, from_s, to_s),
            peaks(motion, plan, from_s, to_s, own.late_s((from_s + to_s) / 2.0)),
        )
        for (number, _), (from_s, to_s) in zip(last, pairwise(ends), strict=True)
    ]
    there_s = sum(max(0.0, min(to_s, ends[-1]) - max(0.0, from_s)) for from_s, to_s in stretches)
    return Hand(
        motion,
        plan,
        run.pace,
        min(1.0, there_s / ends[-1]),
        whole(motion, plan, 0.0, ends[-1]),
        own,
        tuple(loops),
        reversals(motion, own.followed(plan)),
    )
