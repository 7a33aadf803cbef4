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
heading is divided by the mean rate of turn since the checkpoint before. The clock of the level
deceleration starts at its first checkpoint, as in a flight test: by then JSBSim's engine and
propeller, which need a second to run down where the coach's are at idle at once, idle as well.

Full power is what each one's own engine gives. So the chandelle is flown a second time at a power
that both can keep to the end: the first time compares the engines too, the second the flying alone.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from coach.flight.airplane import Airplane, load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.plan import plan
from coach.problems import Problem
from coach.script.catalog import maneuver
from coach.script.quantities import HORSEPOWER, POUND, parse
from coach.script.targets import POWERS
from tests.reference.jsbsim_flight import Array, Flown, fly
from tests.reference.measure_airplane import airplane_file

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Trial:
    """A maneuver, and how JSBSim flies it.

    Attributes:
        script: name or path.
        held: what is held with the nose beside the history.
        directions: to which sides it is flown.
        clock: the checkpoint at which the clock starts, or None for the beginning.
        full: what stands for full power, or None for full power.
    """

    script: str
    held: Literal["nothing", "altitude", "speed"] = "nothing"
    directions: tuple[str, ...] = ("right", "left")
    clock: str | None = None
    full: str | None = None


TRIALS = (
    Trial("lazy-eight"),
    Trial("chandelle"),
    Trial("chandelle", full="75 %"),
    Trial("steep-turn-50", "altitude"),
    Trial(str(HERE / "power-off-glide.yaml"), "speed", ("right",)),
    Trial(str(HERE / "level-deceleration.yaml"), "altitude", ("right",), "nine tenths of entry"),
)

LOADED = 0.915
"""Weight flown, as a share of gross."""

ALTITUDE_FT, GROUND_FT = 5000, 2000

LONGER = 1.2
"""JSBSim flies on beyond the history's end, to be seen reaching the last checkpoint later."""

TURNING_DEG = 5.0
"""With less bank than this a heading is reached at no particular time."""


@dataclass(frozen=True)
class Row:
    """One checkpoint; differences are coach minus JSBSim.

    Attributes:
        maneuver: its title.
        direction: of the first turn.
        checkpoint: its name.
        time_s: when the coach reaches it.
        time_percent: how much later than JSBSim, as a percentage of JSBSim's time.
        speed_kt: indicated airspeed.
        altitude_ft: altitude.
        heading_deg: heading turned since the beginning, positive in the direction of the turn.
    """

    maneuver: str
    direction: str
    checkpoint: str
    time_s: float
    time_percent: float
    speed_kt: float
    altitude_ft: float
    heading_deg: float


def compare(model: str, airplane: Airplane, trial: Trial) -> list[Row]:
    """One loop to each side, planned by the coach, flown by JSBSim, compared at every checkpoint.

    The air is still and standard, the entry at `ALTITUDE_FT`, the weight `LOADED` of gross.

    Args:
        model: file id of the JSBSim model.
        airplane: what was measured on it.
        trial: what is flown.

    Raises:
        Problem: the airplane cannot fly the maneuver, or JSBSim has no such model.
    """
    script = maneuver(trial.script)
    if trial.full is not None:
        instead = {"power": parse("share", trial.full)}
        legs = [
            leg.model_copy(update=instead) if leg.power == POWERS["full"] else leg
            for leg in script.legs
        ]
        title = f"{script.title} at {trial.full}"
        script = script.model_copy(update={"legs": tuple(legs), "title": title})
    weight = round(LOADED * airplane.weights.gross / POUND)
    rows: list[Row] = []
    for direction in trial.directions:
        day = Day(
            weight=f"{weight}", altitude=f"{ALTITUDE_FT}", ground=f"{GROUND_FT}", wind="calm",
            direction=direction, loops=1,
        )  # fmt: skip
        flight = plan(script, airplane, conditions(day, script, airplane))
        rows += _rows(flight, _flown(model, flight, trial.held), direction, trial.clock)
    return rows


def _flown(model: str, flight: Flight, held: str) -> Flown:
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


def _rows(flight: Flight, outside: Flown, direction: str, clock: str | None) -> Iterable[Row]:
    """Every checkpoint's differences."""
    mine = np.degrees(flight.recorded("heading") - flight.recorded("heading")[0])
    began = before_s = before_deg = 0.0
    for moment in flight.moments:
        now = moment.time_s
        heading = float(np.interp(now, flight.recorded("time"), mine))
        turned, speed, altitude = (
            float(np.interp(now, outside.t_s, column))
            for column in (outside.turned_deg, outside.ias_kt, outside.altitude_ft)
        )
        ahead = flight.sides[0] * (heading - turned)
        about = _about(flight, moment)
        if about == "speed":
            theirs = _reached(outside, outside.ias_kt, moment.ias_kt, now)
        elif about == "height":
            theirs = _reached(outside, outside.altitude_ft, moment.altitude_ft, now)
        elif abs(moment.bank_deg) >= TURNING_DEG:
            theirs = _reached(outside, outside.turned_deg, heading, now)
        else:
            theirs = now + ahead * (now - before_s) / abs(heading - before_deg)
        if moment.name == clock:
            began, outside = now, replace(outside, t_s=outside.t_s - (theirs - now))
            continue
        yield Row(
            flight.maneuver.title, direction, moment.name, now,
            100.0 * (now - theirs) / (theirs - began), moment.ias_kt - speed,
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
        late = "never" if math.isnan(one.time_percent) else f"{one.time_percent:+.1f}"
        lines.append(
            f"| {one.maneuver}, {one.direction} | {one.checkpoint} | {one.time_s:.1f} | {late} "
            f"| {one.speed_kt:+.1f} | {one.altitude_ft:+.0f} | {one.heading_deg:+.1f} |"
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
    for trial in TRIALS:
        try:
            rows += compare(model, airplane, trial)
        except Problem as problem:
            print(f"{Path(trial.script).stem}: {problem}\n")
    print(table(rows))


if __name__ == "__main__":
    try:
        file_id, *weight = sys.argv[1:]
        main(file_id, *map(float, weight))
    except (TypeError, ValueError):
        sys.exit(__doc__)
    except Problem as problem:
        sys.exit(str(problem))
