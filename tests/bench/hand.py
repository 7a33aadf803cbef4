"""How smooth the hand is: ``python -m tests.bench.hand [MANEUVER...]``.

Every maneuver with four airplanes on three days: the largest change of pitch rate and of roll rate
over 0.2 s, the largest step of the nose in 0.1 s, the least and the greatest load factor. Beside each stands what the stated hand does: see `MOST`.
"""

from __future__ import annotations

import sys
from dataclasses import astuple, dataclass

import numpy as np

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.history import Floats
from coach.flight.plan import plan
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.shelf import shipped

LIBRARY = sorted(path.stem for path in shipped("scripts").glob("maneuvers/*.yaml"))
AIRPLANES = sorted(path.stem for path in shipped("scripts").glob("airplanes/*.yaml"))
DAYS = (
    Day(),
    Day(wind="calm", direction="left", temperature="30 C"),
    Day(ground="3000 ft", wind="240@15", heading="210"),
)

ORDINARY = (2.05, 10.05)
"""Change of pitch rate and of roll rate in ordinary flight, deg/s2: 2 and 10 are the hand's own
(`coach.flight.handling`; common practice, no source)."""

MOST = {
    "lazy-eight": (2.0, 2.2),
    "chandelle": (2.0, 10.0),
    "accelerated-stall": (9.0, 17.0),
    "power-off-stall": (9.0, 10.0),
    "power-on-stall": (9.0, 10.0),
    "unusual-attitude-nose-high": (9.0, 17.0),
    "unusual-attitude-nose-low": (5.0, 17.0),
}
"""The same where it differs. Lazy eight and chandelle are flown gently; the slowest airplane turns
so fast in one that its bank has little time between 15 and 30 degrees. A stall is recovered within
four seconds and an unusual attitude rolled level as quickly: at once, and not with a jerk."""


@dataclass(frozen=True)
class Smoothness:
    """The largest figures of one flight, or of several.

    Attributes:
        pitch: change of pitch rate over 0.2 s, deg/s2.
        roll: change of roll rate over 0.2 s, deg/s2.
        nose: step of the pitch attitude in 0.1 s, deg.
        load: load factor.
        unload: the least load factor, with its sign changed.
    """

    pitch: float
    roll: float
    nose: float
    load: float
    unload: float


def smoothness(flight: Flight) -> Smoothness:
    """What is largest in a flight."""
    table = flight.table(10.0)
    time, pitch, load = flight.recorded("time"), table["pitch_deg"], table["load_factor"]
    pitching, rolling = (np.degrees(flight.recorded(one)) for one in ("pitch", "bank"))
    return Smoothness(
        _sharpest(time, pitching), _sharpest(time, rolling), float(np.abs(np.diff(pitch)).max()),
        float(load.max()), -float(load.min()),
    )  # fmt: skip


def _sharpest(time: Floats, values: Floats) -> float:
    """The largest change of rate over 0.2 s; a rate is that between two instants, at their middle."""
    kept = np.concatenate([[True], np.diff(time) > 0.02])
    time, values = time[kept], values[kept]
    middle, rate = 0.5 * (time[1:] + time[:-1]), np.diff(values) / np.diff(time)
    begin = np.arange(middle[0], middle[-1] - 0.2, 0.02)
    change = np.interp(begin + 0.2, middle, rate) - np.interp(begin, middle, rate)
    return float(np.abs(change).max()) / 0.2


def main() -> None:
    """Measure and print a table."""
    print("maneuver                     pitch, deg/s2  roll, deg/s2  nose, deg in 0.1 s  load")
    for name in sys.argv[1:] or LIBRARY:
        script, found, refused = maneuver(name), list[Smoothness](), 0
        for airplane in map(load, AIRPLANES):
            for day in DAYS:
                try:
                    flight = plan(script, airplane, conditions(day, script, airplane))
                except Problem:
                    refused += 1
                    continue
                found.append(smoothness(flight))
        worst = Smoothness(*(max(column) for column in zip(*map(astuple, found), strict=True)))
        pitch, roll = MOST.get(name, ORDINARY)
        told = " too much" if worst.pitch > pitch or worst.roll > roll else ""
        told += f" ({refused} refused)" if refused else ""
        print(
            f"{name:<28} {worst.pitch:5.1f} of {pitch:4.1f}  {worst.roll:5.1f} of {roll:4.1f} "
            f"{worst.nose:12.2f}        {-worst.unload:.2f} to {worst.load:.2f}{told}"
        )


if __name__ == "__main__":
    main()
