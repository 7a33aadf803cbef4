"""Holds the coach's flights against JSBSim's six degrees of freedom, for one airplane.

A maneuver is planned with the coach and flown by JSBSim, which gets the coach's bank, nose and
power; `tests.bench.six_degrees` prints all of it.

Where a leg moves the pitch by the clock, JSBSim gets the history of pitch and nothing else. Where a
leg holds an altitude, a path or an airspeed with the nose, an open pitch history would drift away
with the smallest difference in lift. So there JSBSim moves the nose towards the coach's altitude,
or towards its airspeed: what is held says nothing, the rest says everything.

Power is prescribed, or the throttle is left alone, as a pilot does: then JSBSim is given the
coach's power for `SET_S` after each moment at which the coach sets the throttle, and keeps that
throttle; full throttle is its own.

A speed that the coach holds with the throttle JSBSim holds with its own.

The time difference at a checkpoint is when JSBSim reaches that heading, speed or height. Where the
wings come level, or nearly so, headings are reached at no particular time: there the difference in
heading is divided by the mean rate of turn since the checkpoint before. Where nothing changes there
is no such time. The clock of the level deceleration starts at its first checkpoint, as in a flight
test, when engine and propeller have run down.
"""

from __future__ import annotations

import itertools
import math
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from coach.flight.airplane import Airplane, load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.plan import plan
from coach.script.catalog import maneuver
from coach.script.quantities import HORSEPOWER, POUND, parse
from coach.script.targets import POWERS
from coach.script.ways import Hold
from coach.script.ways import Path as Along
from tests.reference.jsbsim_flight import Array, Flown, fly
from tests.reference.measure_airplane import airplane_file

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Trial:
    """A maneuver, and how JSBSim flies it.

    Attributes:
        script: name or path.
        clock: the checkpoint at which the clock starts, or None for the beginning.
        full: what stands for full power, or None for full power.
        alone: whether the throttle is left alone, rather than power prescribed.
    """

    script: str
    clock: str | None = None
    full: str | None = None
    alone: bool = False

    @property
    def name(self) -> str:
        """What it is called."""
        full = f" at {self.full}" if self.full else ""
        return Path(self.script).stem + full + (", throttle left alone" if self.alone else "")


TRIALS = (
    Trial("lazy-eight"),
    Trial("chandelle"),
    Trial("chandelle", full="75 %"),
    Trial("steep-turn-50"),
    Trial("steep-spiral"),
    Trial("standard-rate-turns"),
    Trial("climb-at-constant-speed"),
    Trial("climb-at-constant-speed", full="55 %"),
    Trial(str(HERE / "power-off-glide.yaml")),
    Trial(str(HERE / "level-deceleration.yaml"), "nine tenths of entry"),
)
"""What the tests fly."""

SET_S = 8.0
"""How long JSBSim's throttle is moved to give the power that the coach sets, s."""

LOADED = 0.915
"""Weight flown, as a share of gross."""

ALTITUDE_FT, GROUND_FT = 5000, 2000
"""Of the entry and of the ground below; a maneuver near the ground is flown at its own height."""

LONGER = 1.2
"""JSBSim flies on beyond the history's end, to be seen reaching the last checkpoint later."""

TURNING_DEG = 5.0
"""With less bank than this a heading is reached at no particular time."""

CHANGING_FPS, CHANGING_KPS = 3.0, 0.3
"""With less climb, and less change of speed, nor is an altitude or a speed."""

DIRECTIONS = ("right", "left")

DIGITS = {"time_percent": 1, "speed_kt": 1, "altitude_ft": 0, "heading_deg": 1}


@dataclass(frozen=True)
class Row:
    """One checkpoint; differences are coach minus JSBSim.

    Attributes:
        maneuver: its title.
        direction: of the first turn.
        checkpoint: its name.
        time_s: when the coach reaches it.
        time_percent: how much later than JSBSim, as a percentage of JSBSim's time; nan where that
            shows in nothing.
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
    altitude = None if script.entry.near_ground else f"{ALTITUDE_FT}"
    for direction in DIRECTIONS:
        day = Day(
            weight=f"{weight}", altitude=altitude, ground=f"{GROUND_FT}", wind="calm",
            direction=direction, loops=1,
        )  # fmt: skip
        flight = plan(script, airplane, conditions(day, script, airplane))
        rows += _rows(flight, flown(model, flight, trial.alone), direction, trial.clock)
        if np.abs(flight.recorded("bank")).max() < math.radians(TURNING_DEG):
            break  # straight ahead, so flown once
    return rows


def flown(model: str, flight: Flight, alone: bool) -> Flown:
    """The same flight by JSBSim."""
    times = np.arange(0.0, LONGER * flight.length_s, 0.05)  # after its end all stays as it was
    wanted = flight.at(times)
    recorded = flight.recorded("time")
    latest = np.clip(np.searchsorted(recorded, times, "right") - 1, 0, None)
    altitude, speed, powered = _held(flight)
    return fly(
        model,
        times,
        wanted["pitch_deg"] - wanted["pitch_deg"][0],
        wanted["bank_deg"],
        entry_ias_kt=flight.entry_speed_kt,
        altitude_ft=float(wanted["altitude_ft"][0]),
        climb_fps=float(wanted["climb_fpm"][0]) / 60.0,
        weight_lb=flight.conditions.mass / POUND,
        power_hp=_power(flight, alone)[latest],
        held_altitude_ft=np.where(altitude[latest], wanted["altitude_ft"], math.nan),
        held_ias_kt=np.where(speed[latest], wanted["ias_kt"], math.nan),
        powered_ias_kt=np.where(powered[latest], wanted["ias_kt"], math.nan),
    )


def _power(flight: Flight, alone: bool) -> Array:
    """Horsepower that the lever comes to, every instant; nan where the throttle is left alone."""
    time, lever, speed, altitude = map(flight.recorded, ("time", "lever", "speed", "altitude"))
    air = map(flight.conditions.density, altitude)
    propeller = flight.performance.propeller
    power = np.array([propeller.output(*one).power for one in zip(lever, speed, air, strict=True)])
    power *= propeller.rated_power / HORSEPOWER
    if alone:
        moved = np.concatenate([[True], np.abs(np.diff(lever)) > 1e-9])
        since = time - time[np.maximum.accumulate(np.where(moved, np.arange(len(time)), 0))]
        power = np.where(lever >= 1.0, math.inf, np.where(since < SET_S, power, math.nan))
    return np.where(lever <= 0.0, 0.0, power)


def _held(flight: Flight) -> tuple[Array, Array, Array]:
    """Whether the nose holds an altitude, the nose a speed, the throttle a speed, every instant."""
    ways = [
        (isinstance(leg.upright, Hold | Along) and not leg.scheduled,
         leg.upright is None and leg.speed is not None,
         isinstance(leg.power, float) and math.isnan(leg.power))
        for leg in flight.maneuver.legs
    ]  # fmt: skip
    altitude, speed, powered = np.array(ways)[flight.recorded("leg").astype(int)].T
    return altitude, speed, powered


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
        match _about(flight, moment, abs(heading - before_deg)):
            case "speed":
                theirs = _reached(outside.t_s, outside.ias_kt, flight, "ias_kt", now)
            case "height":
                theirs = _reached(outside.t_s, outside.altitude_ft, flight, "altitude_ft", now)
            case "heading" if abs(moment.bank_deg) >= TURNING_DEG:
                side = math.copysign(1.0, moment.bank_deg)
                theirs = _passed(outside.t_s, side * outside.turned_deg, side * heading, now)
            case "heading":
                theirs = now + ahead * (now - before_s) / abs(heading - before_deg)
            case _:
                theirs = math.nan
        if moment.name == clock:
            began, outside = now, replace(outside, t_s=outside.t_s - (theirs - now))
            continue
        yield Row(
            flight.maneuver.title, direction, moment.name, now,
            100.0 * (now - theirs) / (theirs - began), moment.ias_kt - speed,
            moment.altitude_ft - altitude, ahead,
        )  # fmt: skip
        before_s, before_deg = now, heading


def _about(flight: Flight, moment: Moment, turned_deg: float) -> str:
    """What shows the time of a checkpoint: ``"speed"``, ``"height"``, ``"heading"`` or nothing.

    It is what the checkpoint waits for; and else what changed on the way to it, or changes there,
    and is not held by JSBSim's nose.
    """
    checkpoint = next(one for one in flight.maneuver.checkpoints if one.name == moment.name)
    legs = {leg.name: leg.until for leg in flight.maneuver.legs}
    waits = checkpoint.at if checkpoint.at is not None else legs[checkpoint.ends or ""]
    index = int(np.searchsorted(flight.recorded("time"), moment.time_s - 0.3))
    altitude, nose, throttle = (bool(held[index]) for held in _held(flight))
    speed = nose or throttle
    if getattr(waits, "speed", None) and not speed:
        return "speed"
    climbing, faster = (
        float(np.diff(flight.at([moment.time_s - 0.5, moment.time_s])[name])[0]) / 0.5
        for name in ("altitude_ft", "ias_kt")
    )
    if getattr(waits, "height", None):
        return "height"
    if turned_deg > TURNING_DEG:
        return "heading"
    if abs(climbing) > CHANGING_FPS and not altitude:
        return "height"
    return "speed" if abs(faster) > CHANGING_KPS and not speed else ""


def _reached(time: Array, trace: Array, flight: Flight, column: str, now: float) -> float:
    """When JSBSim comes to what the coach has now, from the same side; nan if it never does."""
    before, here = flight.at([now - 0.5, now])[column].tolist()
    way = math.copysign(1.0, here - before)
    return _passed(time, way * trace, way * here, now)


def _passed(time: Array, trace: Array, value: float, near_s: float) -> float:
    """When a trace rises through a value, the time nearest to another; nan if it never does."""
    passes = np.flatnonzero((trace[:-1] < value) & (trace[1:] >= value))
    share = (value - trace[passes]) / (trace[passes + 1] - trace[passes])
    when = time[passes] + share * np.diff(time)[passes]
    return float(when[np.abs(when - near_s).argmin()]) if when.size else math.nan


def largest(rows: Iterable[Row]) -> list[Row]:
    """One row for each maneuver and direction: the largest difference of each kind, signed."""
    found = []
    for head, group in itertools.groupby(rows, lambda one: (one.maneuver, one.direction)):
        each = list(group)
        columns = ([float(getattr(one, field)) for one in each] for field in DIGITS)
        most = (
            max((one for one in column if not math.isnan(one)), key=abs, default=math.nan)
            for column in columns
        )
        found.append(Row(*head, f"largest of {len(each)}", each[-1].time_s, *most))
    return found


def table(rows: Iterable[Row], goal: Mapping[str, float] | None = None) -> str:
    """The rows in Markdown; what is beyond a goal in bold."""
    lines = [
        "| maneuver | checkpoint | at, s | time, % | speed, kt | altitude, ft | heading, deg |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in rows:
        cells = []
        for field, digits in DIGITS.items():
            value = getattr(one, field)
            cell = "-" if math.isnan(value) else f"{value:+.{digits}f}"
            beyond = goal is not None and abs(value) > goal[field]
            cells.append(f"**{cell}**" if beyond else cell)
        head = f"{one.maneuver}, {one.direction} | {one.checkpoint} | {one.time_s:.1f}"
        lines.append(f"| {head} | {' | '.join(cells)} |")
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
