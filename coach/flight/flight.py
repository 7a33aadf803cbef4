"""A flown maneuver: its time history, and the same in the units a pilot reads."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from coach.flight.airplane import Airplane
from coach.flight.atmosphere import indicated_airspeed
from coach.flight.conditions import Conditions
from coach.flight.controls import controls
from coach.flight.history import Floats, History, Span
from coach.flight.moment import Moment
from coach.flight.performance import Performance
from coach.flight.speeds import named_speed, stall_speed
from coach.script.asked import Asked
from coach.script.maneuver import Anchor, Maneuver
from coach.script.quantities import DEGREE, FOOT, KNOT
from coach.script.targets import Target


@dataclass(frozen=True)
class Flight:
    """How a maneuver is flown by one airplane on one day.

    Attributes:
        maneuver: the script it follows.
        airplane: the airplane.
        performance: what was derived from its handbook numbers.
        solved: what the planner found for each unknown, in SI units.
        power: share of rated power at entry.
        turns: revolutions a second at entry; nan where they are not for the throttle to say.
        level_pitch: pitch attitude of level flight at entry, rad; what "level" means to the eye.
        history: what was flown.
        shortfalls: wishes of the script that this airplane and day leave open, as sentences.
    """

    maneuver: Maneuver
    airplane: Airplane
    performance: Performance
    solved: dict[str, float]
    power: float
    turns: float
    level_pitch: float
    history: History
    shortfalls: tuple[str, ...]

    @property
    def conditions(self) -> Conditions:
        """The day."""
        return self.history.conditions

    @property
    def sides(self) -> tuple[int, ...]:
        """Direction of each loop, +1 right."""
        return self.history.sides

    @property
    def spans(self) -> tuple[Span, ...]:
        """The legs in time."""
        return self.history.spans

    @property
    def loops(self) -> list[tuple[float, float]]:
        """Start and end of each loop, s."""
        numbers = range(1, len(self.sides) + 1)
        legs = [[span for span in self.spans if span.loop == number] for number in numbers]
        return [(spans[0].start_s, spans[-1].end_s) for spans in legs]

    def recorded(self, field: str) -> Floats:
        """One field of `Instant` over the whole flight, in SI units and radians."""
        return self.history.recorded(field)

    def speed_of(self, target: Target) -> float:
        """The indicated airspeed that a script asks for in this flight, m/s."""
        return named_speed(
            target, self.airplane, self.performance, self.conditions.mass,
            self.conditions.entry_speed,
        )  # fmt: skip

    @property
    def length_s(self) -> float:
        """Seconds from the first moment to the last."""
        return float(self.recorded("time")[-1])

    @cached_property
    def _traces(self) -> dict[str, Floats]:
        """Every instant in the units a pilot reads; the columns of `table`."""
        time, speed = self.recorded("time"), self.recorded("speed")
        altitude, path = self.recorded("altitude"), self.recorded("path")
        heading, load = self.recorded("heading"), self.recorded("load_factor")
        indicated = self.history.indicated
        stall = np.array([stall_speed(self.performance, self.conditions.mass, n) for n in load])
        east, north = self.history.position
        groundspeed = np.hypot(*self.history.over_ground)
        lift = self.recorded("lift_coefficient")
        hands = controls(
            self.performance, self.airplane.wing.span, time, speed, heading,
            self.recorded("pitch"), self.recorded("bank"), lift, float(lift[0] / load[0]),
        )  # fmt: skip
        return {
            "t_s": time,
            "loop": self.recorded("loop") + 1.0,
            "heading_deg": heading / DEGREE,
            "turned_deg": self.history.turned / DEGREE,
            "pitch_deg": (self.recorded("pitch") - self.level_pitch) / DEGREE,
            "path_deg": path / DEGREE,
            "bank_deg": self.recorded("bank") / DEGREE,
            "ias_kt": indicated / KNOT,
            "tas_kt": speed / KNOT,
            "altitude_ft": altitude / FOOT,
            "turn_rate_dps": self.recorded("turn_rate") / DEGREE,
            "load_factor": load,
            "stall_margin_kt": (indicated - stall) / KNOT,
            "alpha_deg": self.recorded("alpha") / DEGREE,
            "rudder": self.recorded("rudder"),
            "elevator": hands.elevator,
            "elevator_rate": hands.elevator_rate,
            "aileron": hands.aileron,
            "roll_dps": hands.rolling / DEGREE,
            "power_percent": 100.0 * self.recorded("power"),
            "rpm": 60.0 * self.recorded("turns"),
            "east_ft": east / FOOT,
            "north_ft": north / FOOT,
            "height_ft": (altitude - self.conditions.ground) / FOOT,
            "groundspeed_kt": groundspeed / KNOT,
            "climb_fpm": speed * np.sin(path) / FOOT * 60.0,
        }

    def at(self, times: npt.ArrayLike) -> dict[str, Floats]:
        """Every column at the given times.

        Args:
            times: seconds, shape (n,).

        Returns:
            Arrays of shape (n,): t_s, loop, heading_deg (0 to 360), turned_deg, pitch_deg (relative
            to level flight at entry), path_deg, bank_deg, ias_kt, tas_kt, altitude_ft,
            turn_rate_dps, load_factor, stall_margin_kt, alpha_deg, rudder, elevator, elevator_rate,
            aileron (see `coach.flight.controls.Controls`), roll_dps, power_percent (of rated
            power), rpm (nan where unknown), east_ft, north_ft, height_ft (above the ground),
            groundspeed_kt, climb_fpm.
        """
        traces = self._traces
        wanted = np.atleast_1d(np.asarray(times, dtype=np.float64))
        out = {name: np.interp(wanted, traces["t_s"], trace) for name, trace in traces.items()}
        # What belongs to one loop must not be mixed with the next one's across the seam.
        index = np.clip(np.searchsorted(traces["t_s"], wanted, "right") - 1, 0, None)
        out["loop"] = traces["loop"][index]
        first = np.array([span.start_s for span in self.spans if span.leg == self.spans[0].leg])
        which = out["loop"].astype(int) - 1
        start = np.interp(first[which], traces["t_s"], traces["heading_deg"])
        out["turned_deg"] = (out["heading_deg"] - start) * np.array(self.sides)[which]
        out["heading_deg"] = np.mod(out["heading_deg"], 360.0)
        return out

    def table(self, rate_hz: float = 10.0) -> dict[str, Floats]:
        """The columns of `at` at a steady rate over the whole flight."""
        return self.at(np.arange(0.0, self.length_s, 1.0 / rate_hz))

    def moment(self, time_s: float, loop: int, name: str, asks: tuple[Asked, ...] = ()) -> Moment:
        """What is true at one time, which may be the very end of a loop."""
        row = {key: float(values[0]) for key, values in self.at([time_s]).items()}
        start = next(span.start_s for span in self.spans if span.loop == loop)
        traces = self._traces
        turned = np.interp([start, time_s], traces["t_s"], traces["heading_deg"])
        return Moment(
            loop=loop,
            name=name,
            time_s=time_s,
            turned_deg=float(turned[1] - turned[0]) * self.sides[loop - 1],
            heading_deg=row["heading_deg"],
            pitch_deg=row["pitch_deg"],
            bank_deg=row["bank_deg"],
            ias_kt=row["ias_kt"],
            altitude_ft=row["altitude_ft"],
            turn_rate_dps=row["turn_rate_dps"],
            load_factor=row["load_factor"],
            stall_margin_kt=row["stall_margin_kt"],
            rudder=row["rudder"],
            elevator=row["elevator"],
            elevator_rate=row["elevator_rate"],
            aileron=row["aileron"],
            roll_dps=row["roll_dps"],
            asks=asks,
        )

    @cached_property
    def moments(self) -> tuple[Moment, ...]:
        """Every checkpoint of every loop that the flight comes to, in order."""
        found = []
        for loop in range(1, len(self.sides) + 1):
            for checkpoint in self.maneuver.checkpoints:
                when = self.when(checkpoint.anchor, loop)
                if when is not None:
                    found.append(self.moment(when, loop, checkpoint.name, checkpoint.asks))
        return tuple(sorted(found, key=lambda moment: moment.time_s))

    def when(self, anchor: Anchor, loop: int) -> float | None:
        """The time of an anchor in one loop, or None where the flight never comes to it."""
        if anchor.checkpoint is not None:
            named = {one.name: one for one in self.maneuver.checkpoints}
            anchor = named[anchor.checkpoint].anchor
        return self.history.when(anchor, loop, self.speed_of)

    def references(self) -> list[tuple[str, float]]:
        """Each outside reference and the heading at which the nose points at it, in degrees.

        A script places its references on the side of a turn away from the entry heading; they are
        listed for the first side, then for the other one where a loop is flown there.
        """
        entry = self.conditions.heading / DEGREE
        found: dict[tuple[str, int], tuple[str, float]] = {}
        for side in (self.sides[0], -self.sides[0]):
            for reference in self.maneuver.references:
                heading = (entry + side * reference.turned / DEGREE) % 360.0
                flown = any(_apart(moment.heading_deg, heading) < 5.0 for moment in self.moments)
                if flown or reference.turned == 0.0:
                    found.setdefault((reference.name, round(heading)), (reference.name, heading))
        return list(found.values())

    def reference_ahead(self, time_s: float) -> str | None:
        """The reference that the nose is turning to, at a checkpoint the one it points at."""
        ahead = next((one for one in self.moments if one.time_s >= time_s - 0.05), None)
        if ahead is None:
            return None
        near = [name for name, heading in self._named if _apart(ahead.heading_deg, heading) < 5.0]
        return near[0] if near else None

    @cached_property
    def _named(self) -> list[tuple[str, float]]:
        return self.references()

    @property
    def entry_speed_kt(self) -> float:
        """Indicated airspeed at the first moment."""
        air = self.conditions.density(self.conditions.altitude)
        return indicated_airspeed(float(self.recorded("speed")[0]), air) / KNOT


def _apart(one_deg: float, other_deg: float) -> float:
    """The angle between two headings, degrees."""
    return abs(math.remainder(one_deg - other_deg, 360.0))
