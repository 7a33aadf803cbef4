"""Measures, by flying a JSBSim model, the numbers a pilot finds in an airplane's own handbook.

    python -m tests.reference.measure_airplane c182 2950

flies the model at a gross weight in pounds (what the model's file loads, when left out) and prints
an airplane file. Everything is clean, in still standard air.
"""

from __future__ import annotations

import math
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import jsbsim
import numpy as np

from coach.problems import Problem
from tests.reference.aloft import RATE, Aloft, load

ALTITUDE_FT = 6000.0
"""Where everything is flown; the glides and stalls begin here."""

LIMIT_LOAD_FACTOR = 3.8
"""Normal category, 14 CFR 23.337 before 2017 (from memory)."""

SEA_LEVEL_DENSITY = 0.0023769
"""slug/ft3, ICAO Doc 7488."""

KNOT = 1852.0 / 3600.0 / 0.3048
"""ft/s."""


class Built(NamedTuple):
    """What the model's files say."""

    loaded_lb: float
    empty_lb: float
    wing_area_sqft: float
    span_ft: float
    rated_hp: float
    rated_rpm: float
    propeller_in: float
    constant_speed: bool


class Steady(NamedTuple):
    """Averages over a steady glide, cruise or climb; lift and drag are the airframe's alone."""

    ias_kt: float
    tas_kt: float
    sink_fps: float
    alpha_deg: float
    lift_lbf: float
    drag_lbf: float
    dynamic_psf: float
    thrust_lbf: float
    power_hp: float
    rpm: float
    altitude_ft: float

    @property
    def glide_ratio(self) -> float:
        """Distance over height lost."""
        return math.sqrt((self.tas_kt * KNOT / self.sink_fps) ** 2 - 1.0)


_READ = (
    "velocities/vc-kts",
    "velocities/vtrue-kts",
    "velocities/v-down-fps",
    "aero/alpha-deg",
    "forces/fwz-aero-lbs",
    "forces/fwx-aero-lbs",
    "aero/qbar-psf",
    "propulsion/engine/thrust-lbs",
    "propulsion/engine/power-hp",
    "propulsion/engine/propeller-rpm",
    "position/h-sl-ft",
)


def built(model: str) -> Built:
    """Read a model's own files.

    Raises:
        Problem: it is none with an engine and a propeller.
    """
    fdm = load(model)
    root = Path(jsbsim.get_default_root_dir())
    own = root / "aircraft" / model
    airplane = ElementTree.parse(own / f"{model}.xml").getroot()

    def part(tag: str) -> ElementTree.Element:
        named = airplane.find(f"propulsion//{tag}")
        name = f"{named.get('file')}.xml" if named is not None else ""
        for folder in (own / "Engines", own, root / "engine"):
            if name and (folder / name).is_file():
                return ElementTree.parse(folder / name).getroot()
        raise Problem(f"JSBSim's {model} has no {tag} that can be read.")

    def number(element: ElementTree.Element, tag: str) -> float:
        return float(element.findtext(tag, "nan"))

    engine, propeller = part("engine"), part("thruster")
    return Built(
        loaded_lb=fdm["inertia/weight-lbs"],
        empty_lb=fdm["inertia/empty-weight-lbs"],
        wing_area_sqft=fdm["metrics/Sw-sqft"],
        span_ft=fdm["metrics/bw-ft"],
        rated_hp=number(engine, "maxhp"),
        rated_rpm=number(engine, "maxrpm"),
        propeller_in=number(propeller, "diameter"),
        constant_speed=number(propeller, "minpitch") < number(propeller, "maxpitch"),
    )


@dataclass(frozen=True)
class Trial:
    """A model at one weight, to be flown for measurement.

    Attributes:
        model: file id.
        weight_lb: all-up.
        wing_area_sqft: the model's.
    """

    model: str
    weight_lb: float
    wing_area_sqft: float

    def speed_at(self, lift_coefficient: float) -> float:
        """Calibrated airspeed at which this lift coefficient carries the weight, kt."""
        pressure = self.weight_lb / (self.wing_area_sqft * lift_coefficient)
        return math.sqrt(2.0 * pressure / SEA_LEVEL_DENSITY) / KNOT

    def glide(self, ias_kt: float) -> Steady:
        """Close the throttle, go to a speed by 1 kt a second, hold it 30 s, average over 20 s."""

        def hold(aloft: Aloft, time_s: float) -> None:
            aloft.speed_by_pitch(ias_kt + math.copysign(max(0.0, abs(away) - time_s), away))
            aloft.power(0.0)

        away = self._start_kt - ias_kt
        return self._steady(hold, abs(away) + 30.0, 20.0)

    def cruise(self, power_hp: float) -> Steady:
        """Set a power, hold altitude for 300 s, average over 10 s."""

        def hold(aloft: Aloft, time_s: float) -> None:
            aloft.altitude(ALTITUDE_FT)
            aloft.power(power_hp)

        return self._steady(hold, 300.0, 10.0)

    def climb(self, ias_kt: float, power_hp: float) -> Steady:
        """Set a power, go to a speed by 1 kt a second, hold it 30 s, average over 10 s."""

        def hold(aloft: Aloft, time_s: float) -> None:
            aloft.speed_by_pitch(ias_kt + math.copysign(max(0.0, abs(away) - time_s), away))
            aloft.power(power_hp)

        away = self._start_kt - ias_kt
        return self._steady(hold, abs(away) + 30.0, 10.0)

    def best_climb(self) -> Steady:
        """The best climb at full throttle, of a sweep in steps of 5 kt."""
        slowest = 5.0 * round(self.speed_at(1.0) / 5.0)
        climbs = (self.climb(slowest + 5.0 * step, math.inf) for step in range(6))
        return min(climbs, key=lambda one: one.sink_fps)

    def stall(self) -> float:
        """Stall speed, calibrated, kt: throttle closed, wings level, slowed by 1 kt a second.

        The speed at which the greatest lift coefficient met on the way carries the weight, so the
        load factor of that moment is allowed for (as in 14 CFR 25.103, from memory).
        """
        aloft = self._take_off()
        greatest = 0.0
        for step in range(round(0.5 * self._start_kt * RATE)):
            aloft.speed_by_pitch(self._start_kt - step / RATE)
            aloft.power(0.0)
            aloft.step()
            lift = aloft["forces/fwz-aero-lbs"] / aloft["aero/qbar-psf"] / self.wing_area_sqft
            greatest = max(greatest, lift)
        return self.speed_at(greatest)

    def best_glide(self) -> tuple[float, float]:
        """Speed, kt, and ratio of the best glide, of a sweep in steps of 5 kt.

        Through all of it goes a parabolic polar: drag over weight is a q + b / q + c over the
        dynamic pressure q, so that a bump in one place does not decide.
        """
        slowest = 5.0 * round(self.speed_at(1.0) / 5.0)
        speeds = slowest + 5.0 * np.arange(10)
        ratios = np.array([self.glide(float(speed)).glide_ratio for speed in speeds])
        pressure = (speeds / self._start_kt) ** 2
        terms = np.column_stack([pressure, 1.0 / pressure, np.ones_like(pressure)])
        a, b, c = np.linalg.lstsq(terms, 1.0 / ratios, rcond=None)[0].tolist()
        best = math.sqrt(b / a)
        return self._start_kt * math.sqrt(best), 1.0 / (a * best + b / best + c)

    @property
    def _start_kt(self) -> float:
        """A middling speed at which any airplane can be trimmed."""
        return self.speed_at(0.7)

    def _take_off(self) -> Aloft:
        return Aloft(self.model, self._start_kt, ALTITUDE_FT, self.weight_lb)

    def _steady(
        self, hold: Callable[[Aloft, float], None], settle_s: float, average_s: float
    ) -> Steady:
        aloft = self._take_off()
        rows = []
        for step in range(round((settle_s + average_s) * RATE)):
            hold(aloft, step / RATE)
            aloft.step()
            if step >= settle_s * RATE:
                rows.append([aloft[path] for path in _READ])
        return Steady(*np.mean(rows, axis=0).tolist())


def airplane_file(model: str, weight_lb: float | None = None) -> str:
    """Measure a model and write its airplane file, with how each number was found.

    Raises:
        Problem: JSBSim has no such model, or it cannot be flown.
    """
    plane = built(model)
    gross = weight_lb or plane.loaded_lb
    trial = Trial(model, gross, plane.wing_area_sqft)
    stall, (glide_kt, ratio), climb = trial.stall(), trial.best_glide(), trial.best_climb()
    rows = {share: trial.cruise(share * plane.rated_hp) for share in (0.55, 0.65, 0.75)}
    held = {
        share: row for share, row in rows.items() if row.power_hp > 0.99 * share * plane.rated_hp
    }
    if not held:
        raise Problem(f"JSBSim's {model} has no 55 % of its power at {ALTITUDE_FT:.0f} ft.")
    top = max(held)
    command = " ".join([model, *([] if weight_lb is None else [f"{weight_lb:.0f}"])])
    return f"""\
# Written by: python -m tests.reference.measure_airplane {command}
#
# Empty weight, wing and engine are what the model's files say; gross weight is
# {"what its file loads" if weight_lb is None else "chosen, since its files say none"}.
# The rest was flown, clean, on a standard day, from {ALTITUDE_FT:.0f} ft:
#   stall {stall:.1f} kt: throttle closed, wings level, slowed by 1 kt a second
#   maneuvering: stall times the square root of {LIMIT_LOAD_FACTOR:g} (normal category, from memory)
#   best glide {glide_kt:.1f} kt, {ratio:.2f} to 1: throttle closed, a polar through a sweep every
#     5 kt; there the engine idles, the propeller's thrust is {trial.glide(glide_kt).thrust_lbf:.1f} lbf
#   cruise: level, 5 minutes after the power was set
{_table(held)}
#   climb: full throttle, the best of a sweep every 5 kt, passing {climb.altitude_ft:.0f} ft:
#     {-60.0 * climb.sink_fps:.0f} ft/min at {climb.ias_kt:.0f} kt indicated, {climb.power_hp:.1f} hp, \
{climb.rpm:.0f} rpm, thrust {climb.thrust_lbf:.0f} lbf
airplane: {model.lower()}
title: JSBSim model {model}, measured
invented: false
weights: {{empty: {plane.empty_lb:.0f} lb, gross: {gross:.0f} lb}}
wing: {{area: {plane.wing_area_sqft:.1f} sq ft, span: {plane.span_ft:.1f} ft}}
engine:
  rated power: {plane.rated_hp:.0f} hp
  rated revolutions: {plane.rated_rpm:.0f} rpm
  propeller diameter: {plane.propeller_in:.0f} in
  propeller: {"constant speed" if plane.constant_speed else "fixed pitch"}
speeds:
  stall: {stall:.0f} kt
  maneuvering: {stall * math.sqrt(LIMIT_LOAD_FACTOR):.0f} kt
  best glide: {glide_kt:.0f} kt
glide ratio: {ratio:.1f}
cruise:
  speed: {held[top].tas_kt:.0f} kt
  power: {100 * top:.0f} %
  altitude: {ALTITUDE_FT:.0f} ft
  revolutions: {held[top].rpm:.0f} rpm
climb:
  speed: {climb.ias_kt:.0f} kt
  rate: {-60.0 * climb.sink_fps:.0f} fpm
  altitude: {climb.altitude_ft:.0f} ft
"""


def _table(rows: dict[float, Steady]) -> str:
    return "\n".join(
        f"#     {100 * share:.0f} %, {row.power_hp:.1f} hp: {row.tas_kt:.1f} kt true, "
        f"{row.ias_kt:.1f} kt indicated, {row.rpm:.0f} rpm, "
        f"thrust {row.thrust_lbf:.0f} lbf"
        for share, row in rows.items()
    )


if __name__ == "__main__":
    try:
        model, *weight = sys.argv[1:]
        print(airplane_file(model, *map(float, weight)), end="")
    except (TypeError, ValueError):
        sys.exit(__doc__)
    except Problem as problem:
        sys.exit(str(problem))
