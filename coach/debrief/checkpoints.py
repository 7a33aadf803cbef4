"""Each checkpoint of a run: early, late, on time or missed, and what that is in the airplane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from coach.flight.moment import Moment
from coach.logbook.run import Run
from coach.taps.timing import Timing

ON_TIME_S = 0.25
"""A smaller error counts as on time.

At 8 degrees a second, the quickest turn of a lazy eight, it is 2 degrees of heading, a fifth of the
10 degrees that FAA-S-ACS-7 (task V.D) allows; and a finger answering a sound needs about 0.2 s
(common practice, no source).
"""

Word = Literal["early", "late", "on time", "missed"]


@dataclass(frozen=True)
class Row:
    """One checkpoint the run got to.

    Attributes:
        loop: which repetition of the maneuver's legs, from 1.
        name: the checkpoint's name in the script.
        planned_s: when it was due, seconds on the flight's clock.
        word: the verdict.
        tapped_s: when it was tapped; None if missed, as are all that follow.
        error_s: tapped minus planned, early negative.
        heading_deg: how much further round the airplane was at the tap, short of it negative:
            the error times the turn rate at the checkpoint.
        speed_kt: indicated airspeed at the tap less that at the checkpoint, from the trace; None
            without a trace.
    """

    loop: int
    name: str
    planned_s: float
    word: Word
    tapped_s: float | None = None
    error_s: float | None = None
    heading_deg: float | None = None
    speed_kt: float | None = None

    @property
    def meaning(self) -> str:
        """``"0.5 s late is 4 degrees of heading and 1 knot"``; "" where there is nothing to say."""
        if self.error_s is None or self.heading_deg is None or self.word == "on time":
            return ""
        size = in_the_airplane(self.heading_deg, self.speed_kt)
        return f"{abs(self.error_s):.1f} s {self.word} is {size}"


def reached(run: Run) -> tuple[Moment, ...]:
    """The checkpoints a run got to: all if it was finished, else those before its end."""
    if run.ended == "finished":
        return run.moments
    return tuple(moment for moment in run.moments if moment.time_s <= run.reached_s)


def rows(run: Run, timing: Timing, taps_s: Sequence[float]) -> tuple[Row, ...]:
    """The verdict on every checkpoint the run got to.

    Args:
        run: the run.
        timing: the match of its taps with `reached`.
        taps_s: the taps that were matched, which `timing` counts through.
    """
    tapped = dict(timing.pairs)
    return tuple(
        _row(run, moment, taps_s[tapped[index]] if index in tapped else None)
        for index, moment in enumerate(reached(run))
    )


def _row(run: Run, moment: Moment, tapped_s: float | None) -> Row:
    if tapped_s is None:
        return Row(moment.loop, moment.name, moment.time_s, "missed")
    error = tapped_s - moment.time_s
    word: Word = "on time" if abs(error) <= ON_TIME_S else "early" if error < 0 else "late"
    speed = None
    if run.trace.get("t_s"):
        at_tap, planned = np.interp(
            [tapped_s, moment.time_s], run.trace["t_s"], run.trace["ias_kt"]
        )
        speed = float(at_tap - planned)
    heading = error * abs(moment.turn_rate_dps)
    return Row(moment.loop, moment.name, moment.time_s, word, tapped_s, error, heading, speed)


def in_the_airplane(heading_deg: float, speed_kt: float | None) -> str:
    """The size of an error as a pilot sees it: ``"4 degrees of heading and 1 knot"``."""
    heading, speed = round(abs(heading_deg)), round(abs(speed_kt or 0.0))
    parts = [f"{counted(heading, 'degree')} of heading"] if heading else []
    parts += [counted(speed, "knot")] if speed else []
    return " and ".join(parts) or "less than a degree of heading"


def counted(number: int, noun: str) -> str:
    """``"1 knot"``, ``"2 knots"``."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
