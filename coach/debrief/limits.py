"""What an error means in the airplane, and by the standard.

Between a checkpoint and a tap the airplane goes on: it turns, climbs and gains speed. That
difference is held against the limits of the student's checkride, which the run keeps, each at the
checkpoints at which it holds. The largest share of a limit is how large the error is; 1 is just
within.

- Where the standard has no limit for a number at a checkpoint, the error is still weighed, by the
  limits of `PLAIN`, but it is not made right by them: 10 degrees of heading at the 8 degrees a
  second of a lazy eight's 90 would be 1.25 s, and no standard allows that there.
- By the standard a tap is on time while heading, speed and altitude are within it all three: where
  it leaves one of them open it does not say how far off that may be, and seconds decide.
- However slowly the airplane changes, more than `LONGEST_S` off is not on time: around a lazy
  eight's 180 it stays within all of its limits for more than 4 s on either side, and a maneuver is
  not known that well.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.flight.moment import Moment
from coach.logbook.run import HEADING, Run
from coach.script.asked import ASKED, Asked
from coach.script.tolerance import Tolerance
from coach.words import listed

SHOWN: tuple[Asked, ...] = ("heading", "speed", "altitude")
"""What a standard limits and a tap can miss; bank and pitch are judged where they are said."""

PLAIN: Mapping[Asked, Tolerance] = {
    of: Tolerance(of, size, size)
    for of, size in ({name: row.tolerance for name, row in ASKED.items()} | {"speed": 10.0}).items()
}
"""By what an error is weighed where the student's checkride has no limit: 10 degrees of heading,
10 kt, 100 ft and 5 degrees of bank are those of FAA-S-ACS-7, task V.A; 3 degrees of pitch are
common practice, no source."""

ON_TIME_S = 0.25
"""A smaller error counts as on time.

At 8 degrees a second, the quickest turn of a lazy eight, it is 2 degrees of heading, a fifth of the
10 degrees that FAA-S-ACS-7 (task V.D) allows; and a finger answering a sound needs about 0.2 s
(common practice, no source).
"""

LONGEST_S = 1.0
"""In own seconds (a guess of ours)."""


@dataclass(frozen=True)
class Off:
    """Where the airplane was at a tap, less where it was at the checkpoint.

    Attributes:
        heading_deg: how much further round; short of it negative.
        speed_kt: None without a trace.
        altitude_ft: likewise.
    """

    heading_deg: float
    speed_kt: float | None
    altitude_ft: float | None

    @property
    def by_number(self) -> dict[Asked, float]:
        """Those that are known, by their numbers."""
        found = zip(SHOWN, (self.heading_deg, self.speed_kt, self.altitude_ft), strict=True)
        return {of: value for of, value in found if value is not None}


def off(run: Run, moment: Moment, flight_s: float) -> Off:
    """How far the airplane was from a checkpoint at one time of the flight.

    Heading is read off the trace; in runs from before it was kept it is the turn rate at the
    checkpoint times the seconds.
    """
    late_s = flight_s - moment.time_s
    if HEADING in run.trace:
        turned = abs(_change(run, HEADING, moment, flight_s) or 0.0)
    else:
        turned = abs(late_s * moment.turn_rate_dps)
    return Off(
        math.copysign(turned, late_s),
        _change(run, "ias_kt", moment, flight_s),
        _change(run, "altitude_ft", moment, flight_s),
    )


def limit(tolerances: Sequence[Tolerance], name: str, of: Asked) -> Tolerance:
    """By what a number is weighed at a checkpoint: its limit there, or the plain one."""
    return next((one for one in tolerances if one.of == of and one.holds(name)), PLAIN[of])


def share(run: Run, moment: Moment, there: Off) -> float:
    """How large an error is: the largest of its shares of a limit; see `Tolerance.share`."""
    return max(
        limit(run.tolerances, moment.name, of).share(value) for of, value in there.by_number.items()
    )


def is_within(run: Run, moment: Moment, flight_s: float) -> bool:
    """Whether the standard, by the rules above, makes a tap there on time."""
    return (
        _limits_all(run, moment)
        and abs(flight_s - moment.time_s) / run.pace <= LONGEST_S
        and share(run, moment, off(run, moment, flight_s)) <= 1.0
    )


def words(run: Run, moments: Sequence[Moment]) -> str:
    """What can make a tap on time besides a quarter of a second, and where; "" for nothing.

    Such as ``"at 180 within 1 s, 10° of heading, 10 kt and 100 ft"``.
    """
    found: dict[tuple[Tolerance, ...], dict[str, None]] = {}
    for moment in moments:
        if _limits_all(run, moment):
            limits = tuple(limit(run.tolerances, moment.name, of) for of in SHOWN)
            found.setdefault(limits, {})[moment.name] = None
    return "; ".join(
        f"at {listed([*names])} within "
        f"{listed([f'{LONGEST_S:g} s', *(one.words for one in limits)])}"
        for limits, names in found.items()
    )


def _limits_all(run: Run, moment: Moment) -> bool:
    """Whether the standard limits all that a tap can miss there, and the run tells it."""
    held = {one.of for one in run.tolerances if one.holds(moment.name)}
    return held.issuperset(SHOWN) and bool(run.trace.get("t_s"))


def _change(run: Run, column: str, moment: Moment, flight_s: float) -> float | None:
    """How much a column of the trace differs from what it is at a checkpoint."""
    if not run.trace.get("t_s"):
        return None
    return _at(run, column, flight_s) - _at(run, column, moment.time_s)


def _at(run: Run, column: str, flight_s: float) -> float:
    """Between the trace's rows on a line, before and after them as at the nearest."""
    times, values = run.trace["t_s"], run.trace[column]
    after = bisect_right(times, flight_s)
    if after in (0, len(times)):
        return values[min(after, len(times) - 1)]
    before = after - 1
    slope = (values[after] - values[before]) / (times[after] - times[before])
    return values[before] + slope * (flight_s - times[before])
