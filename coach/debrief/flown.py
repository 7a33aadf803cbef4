"""What a hand held at a checkpoint, against what belongs there.

Pitch and bank are judged each by itself: a nose that comes down late over wings that roll in time
is an error of the nose. Each is weighed by the limits of the student's checkride, or by
`coach.debrief.limits.PLAIN`, and its word is

- "on time" where it is within them, as far as a phone and its clock can tell;
- "early" or "late" where it is not, but was within them more than `ON_TIME_S` before or after, as
  late as the hand was by a tempo of its own, in all of that loop, or only there;
- "wrong" else: the hand was never there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from coach.debrief.hand import Hand, hand
from coach.debrief.limits import ON_TIME_S, limit, off
from coach.flight.moment import Moment
from coach.hand.measured import Axis, held, shift
from coach.hand.motion import Motion
from coach.hand.tempo import STEADY
from coach.logbook.run import Run
from coach.words import side_of

PHONE_DEG = 0.5
"""So far off a phone may be when the drift of its hold is taken off (a guess of ours)."""

LEVEL_DEG = 5.0
"""Of wings that are nearer to level than this it is no use to say to which side they are banked."""

Word = Literal["on time", "early", "late", "wrong"]

Lasting = Literal["run", "loop", ""]
"""How long a hand was so late: by a tempo of its own, in a whole loop, or only there."""


@dataclass(frozen=True)
class Angle:
    """Pitch or bank at a checkpoint.

    Attributes:
        of: which of them.
        deg: what was held, with the noise of sensor and hand taken off; up and right positive.
        belongs_deg: what belongs there.
        rate_dps: how fast that changes there, degrees per second of the flight.
        share: how large the error is: 1 is at its limit.
        late_s: how much later than planned the hand did what belongs there, own seconds, early
            negative; None where that cannot be told, such as in a steady turn.
        word: the verdict.
        lasting: of one that is early or late.
    """

    of: Axis
    deg: float
    belongs_deg: float
    rate_dps: float
    share: float
    late_s: float | None
    word: Word
    lasting: Lasting = ""

    @property
    def off_deg(self) -> float:
        """How much too high, or too steep to the side that belongs there; to the right if none."""
        return self.across_deg - self._across(self.belongs_deg)

    @property
    def across_deg(self) -> float:
        """What was held, of bank to the side that belongs there; the other side is negative."""
        return self._across(self.deg)

    @property
    def is_turned(self) -> bool:
        """Whether the bank is to the other side than the one that belongs there."""
        sides = (self.deg, self.belongs_deg)
        return self.of == "bank" and min(sides) < -LEVEL_DEG and max(sides) > LEVEL_DEG

    @property
    def short(self) -> str:
        """``"41° (30)"``, of pitch with its sign, of bank to the other side with that."""
        if self.of == "pitch":
            return f"{_signed(self.deg)}° ({_signed(self.belongs_deg)})"
        shown = round(self.across_deg)
        side = f" {side_of(self.deg)}" if shown < 0 or not round(self.belongs_deg) else ""
        return f"{abs(shown)}°{side if shown else ''} ({abs(self.belongs_deg):.0f})"

    def _across(self, deg: float) -> float:
        return -deg if _is_left(self.of, self.belongs_deg) else deg


@dataclass(frozen=True)
class Flown:
    """What a hand did at a checkpoint.

    Attributes:
        pitch: its pitch, from level flight at entry.
        bank: its bank.
        heading_deg: how far the airplane turned in the seconds by which the hand was late, or
            early (negative); None where it was neither, or that is not known.
    """

    pitch: Angle
    bank: Angle
    heading_deg: float | None = None

    @property
    def angles(self) -> tuple[Angle, Angle]:
        """Bank first, as pilots say them; of two that are wrong alike it is told."""
        return self.bank, self.pitch

    @property
    def word(self) -> Word:
        """The word of what is worst about it."""
        return self.worst.word

    @property
    def worst(self) -> Angle:
        """Which of the two is judged worse: wrong before late or early, then by its share."""

        def rank(angle: Angle) -> tuple[bool, bool, float]:
            return angle.word == "wrong", angle.word != "on time", angle.share

        return max(self.angles, key=rank)

    @property
    def share(self) -> float:
        """The larger of the two shares."""
        return max(angle.share for angle in self.angles)

    @property
    def late_s(self) -> float | None:
        """By how much the one that is judged worse was late; see `Angle.late_s`."""
        return self.worst.late_s

    def to_dict(self) -> dict[str, Any]:
        """The same as JSON values, with both angles in words."""
        return {
            **{
                angle.of: asdict(angle) | {"off_deg": angle.off_deg, "words": angle.short}
                for angle in self.angles
            },
            "word": self.word,
            "late_s": self.late_s,
            "heading_deg": self.heading_deg,
        }


def everywhere(run: Run, moments: Sequence[Moment]) -> tuple[Hand | None, tuple[Flown | None, ...]]:
    """What the hand did in all of a run, and at each checkpoint; None where it was not seen."""
    seen = hand(run, moments)
    return seen, tuple(flown(run, moment, seen) if seen else None for moment in moments)


def flown(run: Run, moment: Moment, hand: Hand) -> Flown | None:
    """Judge what the hand held at a checkpoint; None where it was not seen there.

    Args:
        run: the run.
        moment: the checkpoint.
        hand: the run's; see `coach.debrief.hand.hand`.
    """
    there = held(hand.motion, moment.time_s)
    if there is None:
        return None
    pitch = _angle(run, moment, hand, "pitch", there.pitch_deg)
    bank = _angle(run, moment, hand, "bank", there.bank_deg)
    found = Flown(pitch, bank)
    if found.word not in ("early", "late") or found.late_s is None:
        return found
    turned = off(run, moment, moment.time_s + found.late_s * run.pace).heading_deg
    return Flown(pitch, bank, turned)


def _angle(run: Run, moment: Moment, hand: Hand, of: Axis, deg: float) -> Angle:
    belongs = moment.pitch_deg if of == "pitch" else moment.bank_deg
    within, side = limit(run.tolerances, moment.name, of), -1.0 if _is_left(of, belongs) else 1.0
    before, after = (_at(hand.plan, of, moment.time_s + step_s) for step_s in (-0.5, 0.5))

    def is_right(there: float, unsure: float = PHONE_DEG) -> bool:
        gap = side * (there - belongs)
        left = max(0.0, abs(gap) - unsure)
        return within.share(float(np.copysign(left, gap))) <= 1.0

    def angle(word: Word, late: float | None, lasting: Lasting) -> Angle:
        own_s = None if late is None else late / run.pace
        share = within.share(side * (deg - belongs))
        return Angle(of, deg, belongs, after - before, share, own_s, word, lasting)

    late = _late(hand, moment, of)
    if is_right(deg, PHONE_DEG + abs(after - before) * hand.motion.doubt_s):
        return angle("on time", next(iter(late.values()), None), "")
    for lasting, late_s in late.items():
        then = held(hand.motion, moment.time_s + late_s)
        if then is None:
            # What a hand that drags would have done after the end of the run is not known.
            was_right = lasting == "run"
        else:
            was_right = is_right(then.pitch_deg if of == "pitch" else then.bank_deg)
        if was_right and abs(late_s) / run.pace > ON_TIME_S:
            return angle("late" if late_s > 0.0 else "early", late_s, lasting)
    return angle("wrong", next(iter(late.values()), None), "")


def _late(hand: Hand, moment: Moment, of: Axis) -> dict[Lasting, float]:
    """How late the hand was there in flight seconds, by what is told most exactly first."""
    own_s, steady = hand.tempo.late_s(moment.time_s), hand.tempo == STEADY
    lag_s = next((one.lag_s(of) for one in hand.loops if one.loop == moment.loop), None)
    found: dict[Lasting, float | None] = {
        "run": None if steady else own_s,
        "loop": lag_s if steady else None,
        "": shift(hand.motion, hand.plan, moment.time_s, (of,), own_s),
    }
    return {lasting: late_s for lasting, late_s in found.items() if late_s is not None}


def _is_left(of: str, belongs: float) -> bool:
    return of == "bank" and round(belongs) < 0


def _at(plan: Motion, of: str, at_s: float) -> float:
    return float(np.interp(at_s, plan.time_s, getattr(plan, f"{of}_deg")))


def _signed(deg: float) -> str:
    return f"{round(deg):+d}" if round(deg) else "0"
