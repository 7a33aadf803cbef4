"""Each checkpoint of a run: early, late, on time or missed, and what that is in the airplane."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from coach.debrief.answers import Answer
from coach.debrief.gauging import Gauged, Word
from coach.flight.moment import Moment
from coach.logbook.run import Run
from coach.taps.tap import Tap
from coach.words import counted, listed


@dataclass(frozen=True)
class Row:
    """One checkpoint the run got to; times in the student's own seconds unless they say flight.

    Attributes:
        loop: which repetition of the maneuver's legs, from 1.
        name: the checkpoint's name in the script.
        flight_s: when it was due on the flight's clock.
        planned_s: when it was due, from the first moment of the maneuver.
        word: the verdict.
        tapped_s: when it was tapped, or named; None if it was not, as are the four that follow.
        how: by a key or by voice.
        error_s: tapped minus planned, early negative.
        heading_deg: how much further round the airplane was at the tap, short of it negative:
            the error in the flight's seconds times the turn rate at the checkpoint.
        speed_kt: indicated airspeed at the tap less that at the checkpoint, from the trace; None
            without a trace.
        answers: the numbers given for it.
        misnamed: the names that were said there and belong elsewhere.
    """

    loop: int
    name: str
    flight_s: float
    planned_s: float
    word: Word
    tapped_s: float | None = None
    how: Literal["key", "voice"] | None = None
    error_s: float | None = None
    heading_deg: float | None = None
    speed_kt: float | None = None
    answers: tuple[Answer, ...] = ()
    misnamed: tuple[str, ...] = ()

    @property
    def hesitation_s(self) -> float | None:
        """Own seconds from its question to the first word of an answer; None without one."""
        found = [one.hesitation_s for one in self.answers if one.hesitation_s is not None]
        return min(found, default=None)

    @property
    def answered(self) -> bool:
        """Whether it was done by answering its question, and not by tapping or naming it."""
        return self.tapped_s is None and self.hesitation_s is not None

    @property
    def meaning(self) -> str:
        """``"0.5 s late is 4 degrees of heading and 1 knot"``; "" where there is nothing to say."""
        if self.error_s is None or self.heading_deg is None or self.word == "on time":
            return ""
        size = in_the_airplane(self.heading_deg, self.speed_kt)
        return f"{abs(self.error_s):.1f} s {self.word} is {size}"

    @property
    def wrong(self) -> tuple[Answer, ...]:
        """The answers that are not right."""
        return tuple(answer for answer in self.answers if not answer.right)


def rows(run: Run, found: Gauged) -> tuple[Row, ...]:
    """The verdict on every checkpoint the run got to."""
    tapped = {checkpoint: found.taps[tap] for checkpoint, tap in found.timing.pairs}
    return tuple(
        Row(
            loop=moment.loop,
            name=moment.name,
            flight_s=moment.time_s,
            planned_s=planned,
            word=found.words[index],
            answers=found.answers[index],
            misnamed=found.misnamed[index],
            **_tapped(run, moment, tapped.get(index)),
        )
        for index, (moment, planned) in enumerate(zip(found.moments, found.planned_s, strict=True))
    )


def _tapped(run: Run, moment: Moment, tap: Tap | None) -> dict[str, Any]:
    """What a row says about its tap."""
    if tap is None:
        return {}
    error = tap.time_s - moment.time_s / run.pace
    speed = None
    if run.trace.get("t_s"):
        times = [tap.time_s * run.pace, moment.time_s]
        at_tap, planned = np.interp(times, run.trace["t_s"], run.trace["ias_kt"])
        speed = float(at_tap - planned)
    return {
        "tapped_s": tap.time_s,
        "how": tap.how,
        "error_s": error,
        "heading_deg": error * run.pace * abs(moment.turn_rate_dps),
        "speed_kt": speed,
    }


def by_name(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """The rows of each checkpoint, all loops together, in the order of a loop."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.name, []).append(row)
    return found


def in_the_airplane(heading_deg: float, speed_kt: float | None) -> str:
    """The size of an error as a pilot sees it: ``"4 degrees of heading and 1 knot"``."""
    heading, speed = round(abs(heading_deg)), round(abs(speed_kt or 0.0))
    parts = [f"{counted(heading, 'degree')} of heading"] if heading else []
    parts += [counted(speed, "knot")] if speed else []
    return listed(parts) or "less than a degree of heading"
