"""Eights on pylons in wind, as a table: python -m tests.bench.pylons

How far the line of sight to the pylon lies from the wing's line, for every airplane of the library:
`off` is its depression less the bank, `ahead` its bearing less that of the wing tip, the largest
of each after the roll-in and before the roll-out.
"""

from __future__ import annotations

import math

import numpy as np

from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.history import Floats
from coach.flight.plan import plan
from coach.script.catalog import maneuver, names
from coach.script.quantities import DEGREE

SETTLED_S = 8.0
"""Rolling in and out takes five seconds, and the sight three to settle."""


def sight(flight: Flight, loop: int, skip_s: float = SETTLED_S) -> dict[str, Floats]:
    """Around one pylon: depression of the line of sight less bank, bearing less wing tip, deg.

    The pylon is the point nearest to all the lines along the wing over the ground (linear least
    squares): nothing here knows where the flight was told it is.
    """
    span = next(one for one in flight.spans if one.leg == "pylon" and one.loop == loop)
    row = flight.at(np.arange(span.start_s + skip_s, span.end_s - skip_s, 0.1))
    side, bank = flight.sides[loop - 1], row["bank_deg"] * DEGREE
    pitch = row["pitch_deg"] * DEGREE + flight.level_pitch
    # Where the lower wing points, by the body's axes: banked and nose up, not square to the nose.
    abeam = row["heading_deg"] * DEGREE + side * math.pi / 2.0
    abeam -= np.arctan(np.tan(bank) * np.sin(pitch))
    lines = np.column_stack([np.cos(abeam), -np.sin(abeam)])
    places = np.column_stack([row["north_ft"], row["east_ft"]])
    across = lines[:, 0] * row["east_ft"] + lines[:, 1] * row["north_ft"]
    (east, north), *_ = np.linalg.lstsq(lines, across, rcond=None)
    to = np.array([north, east]) - places
    bearing = np.arctan2(to[:, 1], to[:, 0])
    away = np.hypot(*to.T)
    return {
        "off": np.degrees(np.arctan(row["height_ft"] / away)) - np.abs(row["bank_deg"]),
        "ahead": np.degrees(np.arctan(np.tan(abeam - bearing))) * -flight.sides[loop - 1],
        **row,
    }


def main() -> None:
    """Print the table."""
    script = maneuver("eights-on-pylons")
    print("airplane, wind kt, side: off deg, ahead deg, heights ft, bank deg, kt (maneuvering)")
    for name in names("airplanes"):
        plane = load(name)
        for wind in ("calm", "quartering@12", "quartering@25"):
            for direction in ("right", "left"):
                day = Day(wind=wind, direction=direction)
                flight = plan(script, plane, conditions(day, script, plane))
                rows = [sight(flight, loop) for loop in (1, 2)]
                off = max(np.abs(row["off"]).max() for row in rows)
                ahead = max(np.abs(row["ahead"]).max() for row in rows)
                table = flight.table()
                print(
                    f"{name:14s} {wind:14s} {direction:6s} {off:5.2f} {ahead:5.2f} "
                    f"{table['height_ft'][0]:5.0f} {table['height_ft'].min():5.0f}"
                    f"-{table['height_ft'].max():5.0f} {np.abs(table['bank_deg']).max():5.1f} "
                    f"{table['ias_kt'].max():5.1f} ({plane.speeds.maneuvering / 0.514444:.0f})"
                )


if __name__ == "__main__":
    main()
