"""Holds the coach's flights against JSBSim's six degrees of freedom, for one airplane.

    python -m tests.reference.compare c182 2950

measures a JSBSim model at a gross weight in pounds (what the model's file loads, when left out) as
its handbook would, plans a few maneuvers for it with the coach, lets JSBSim fly them, and prints a
Markdown table of the differences, coach minus JSBSim.

The lazy eight and the chandelle are flown open: JSBSim is given the pitch, bank and power history
and nothing else. A turn, glide or deceleration has a goal that a pilot holds; an open pitch history
would drift away from it with the smallest difference in lift. So JSBSim takes bank and power from
the history, and moves the nose towards the altitude of a level turn or a level deceleration, or
towards the airspeed of a glide: what is held says nothing there, the rest says everything.

The time difference at a checkpoint is when JSBSim reaches that heading, speed or height. Where the
wings come level, or nearly so, headings are reached at no particular time: there the difference in
heading is divided by the mean rate of turn since the checkpoint before.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from coach.flight.airplane import Airplane, load
from coach.flight.day import Day, conditions
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.plan import plan
from coach.problems import Problem
from coach.script.library import maneuver
from coach.script.quantities import HORSEPOWER, POUND
from tests.reference.jsbsim_flight import Array, Flown, fly
from tests.reference.measure_airplane import airplane_file

Held = Literal["nothing", "altitude", "speed"]

HERE = Path(__file__).parent

FLOWN: dict[str, Held] = {
    "lazy-eight": "nothing",
    "chandelle": "nothing",
    "steep-turn-50": "altitude",
    str(HERE / "power-off-glide.yaml"): "speed",
    str(HERE / "level-deceleration.yaml"): "altitude",
}
"""The maneuvers, and what JSBSim is made to hold in them."""

LOADED = 0.915
"""Weight flown, as a share of gross."""

ALTITUDE_FT, GROUND_FT = 5000, 2000

LONGER = 1.1
"""JSBSim flies on beyond the history's end, to be seen reaching the last checkpoint later."""

TURNING_DEG = 5.0
"""With less bank than this a heading is reached at no particular time."""


@dataclass(frozen=True)
class Row:
    """One checkpoint; differences are coach minus JSBSim.

    Attributes:
        maneuver: its title.
        loop: from 1.
        checkpoint: its name.
        time_s: when the coach reaches it.
        time_percent: how much later or earlier than JSBSim, of that time.
        speed_kt: indicated airspeed.
        altitude_ft: altitude.
        heading_deg: heading turned since the beginning, in the direction of the loop.
    """

    maneuver: str
    loop: int
    checkpoint: str
    time_s: float
    time_percent: float
    speed_kt: float
    altitude_ft: float
    heading_deg: float


def compare(model: str, airplane: Airplane, script: str, held: Held, **day: str) -> list[Row]:
    """Plan a maneuver with the coach, fly it with JSBSim, and compare every checkpoint.

    Args:
        model: file id of the JSBSim model.
        airplane: what was measured on it.
        script: name or path of the maneuver.
        held: what JSBSim holds with the nose.
        day: what differs from still, standard air at 5,000 ft and `LOADED` of gross weight.

    Raises:
        Problem: the airplane cannot fly the maneuver, or JSBSim has no such model.
    """
    weight = round(LOADED * airplane.weights.gross / POUND)
    asked = Day(**{"weight": f"{weight}", "altitude": f"{ALTITUDE_FT}", "ground": f"{GROUND_FT}",
                   "wind": "calm"} | day)  # fmt: skip
    written = maneuver(script)
    flight = plan(written, airplane, conditions(asked, written, airplane))
    return list(_rows(flight, _flown(model, flight, held)))


def _flown(model: str, flight: Flight, held: Held) -> Flown:
    """The same flight by JSBSim."""
    times = np.arange(0.0, LONGER * flight.length_s, 0.05)  # after its end all stays as it was
    wanted = flight.at(times)
    share = np.interp(times, flight.recorded("time"), flight.recorded("power"))
    return fly(
        model,
        times,
        wanted["pitch_deg"],
        wanted["bank_deg"],
        entry_ias_kt=flight.entry_speed_kt,
        altitude_ft=float(wanted["altitude_ft"][0]),
        weight_lb=flight.conditions.mass / POUND,
        power_hp=share * flight.airplane.engine.rated_power / HORSEPOWER,
        held_altitude_ft=wanted["altitude_ft"] if held == "altitude" else None,
        held_ias_kt=wanted["ias_kt"] if held == "speed" else None,
    )


def _rows(flight: Flight, outside: Flown) -> Iterable[Row]:
    """Every checkpoint's differences."""
    mine = np.degrees(flight.recorded("heading") - flight.recorded("heading")[0])
    before_s = before_deg = 0.0
    for moment in flight.moments:
        now = moment.time_s
        heading = float(np.interp(now, flight.recorded("time"), mine))
        turned, speed, altitude = (
            float(np.interp(now, outside.t_s, column))
            for column in (outside.turned_deg, outside.ias_kt, outside.altitude_ft)
        )
        ahead = flight.sides[moment.loop - 1] * (heading - turned)
        about = _about(flight, moment)
        if about == "speed":
            theirs = _reached(outside, outside.ias_kt, moment.ias_kt, now)
        elif about == "height":
            theirs = _reached(outside, outside.altitude_ft, moment.altitude_ft, now)
        elif abs(moment.bank_deg) >= TURNING_DEG:
            theirs = _reached(outside, outside.turned_deg, heading, now)
        else:
            theirs = now + ahead * (now - before_s) / abs(heading - before_deg)
        yield Row(
            flight.maneuver.title, moment.loop, moment.name, now,
            100.0 * (now - theirs) / theirs, moment.ias_kt - speed,
            moment.altitude_ft - altitude, ahead,
        )  # fmt: skip
        before_s, before_deg = now, heading


def _about(flight: Flight, moment: Moment) -> str:
    """What a checkpoint waits for: ``"speed"``, ``"height"`` or ``"heading"``."""
    checkpoint = next(one for one in flight.maneuver.checkpoints if one.name == moment.name)
    legs = {leg.name: leg.until for leg in flight.maneuver.legs}
    waits = checkpoint.at or legs[checkpoint.ends or ""]
    return next((key for key in ("speed", "height") if getattr(waits, key, None)), "heading")


def _reached(outside: Flown, trace: Array, value: float, near_s: float) -> float:
    """When JSBSim passes a value, the time nearest to the coach's; nan if it never does."""
    passes = np.flatnonzero(np.diff(trace >= value))
    share = (value - trace[passes]) / (trace[passes + 1] - trace[passes])
    when = outside.t_s[passes] + share * np.diff(outside.t_s)[passes]
    return float(when[np.abs(when - near_s).argmin()]) if when.size else float("nan")


def table(rows: Iterable[Row]) -> str:
    """The rows in Markdown."""
    lines = [
        "| maneuver | checkpoint | at, s | time, % | speed, kt | altitude, ft | heading, deg |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in rows:
        lines.append(
            f"| {one.maneuver} | loop {one.loop}, {one.checkpoint} | {one.time_s:.1f} "
            f"| {one.time_percent:+.1f} | {one.speed_kt:+.1f} | {one.altitude_ft:+.0f} "
            f"| {one.heading_deg:+.1f} |"
        )
    return "\n".join(lines)


def measured(model: str, gross_lb: float | None = None) -> Airplane:
    """The airplane that measuring a JSBSim model gives.

    Raises:
        Problem: JSBSim has no such model, or it cannot be flown.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{model}.yaml"
        path.write_text(airplane_file(model, gross_lb), encoding="utf-8")
        return load(str(path))


def main(model: str, gross_lb: float | None = None) -> None:
    """Measure, compare and print; a maneuver that cannot be flown is told in its sentence."""
    airplane = measured(model, gross_lb)
    rows: list[Row] = []
    for script, held in FLOWN.items():
        try:
            rows += compare(model, airplane, script, held)
        except Problem as problem:
            print(f"{Path(script).stem}: {problem}\n")
    print(table(rows))


if __name__ == "__main__":
    try:
        file_id, *weight = sys.argv[1:]
        main(file_id, *map(float, weight))
    except (TypeError, ValueError):
        sys.exit(__doc__)
    except Problem as problem:
        sys.exit(str(problem))
