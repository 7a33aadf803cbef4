"""The derived propeller against JSBSim's own: thrust, torque, revolutions and rate of climb.

    python -m tests.bench.propeller [picture.png]

flies two JSBSim models at gross weight from 50 to 130 kt, at full throttle and at 55 % of rated
power, and prints what their propellers do beside what the coach derives from the handbook's numbers
that were measured on them (tests/reference). With a file name it draws the same.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from coach.flight.airplane import load
from coach.flight.atmosphere import density
from coach.flight.derived import climb_rate
from coach.flight.fit import derive
from coach.flight.speeds import stall_speed
from coach.problems import Problem
from coach.script.quantities import FOOT, HORSEPOWER, KNOT, POUND, STANDARD_GRAVITY
from tests.reference.measure_airplane import Trial

HERE = Path(__file__).parent.parent / "reference"
MODELS = ("c182", "c172p")
POWERS = (None, 0.55)
SPEEDS_KT = range(50, 131, 10)


class Row(NamedTuple):
    """One speed; the first of each pair is the coach's, the second JSBSim's."""

    model: str
    power: float | None
    ias_kt: float
    thrust_lbf: tuple[float, float]
    torque_lbft: tuple[float, float]
    rpm: tuple[float, float]
    climb_fpm: tuple[float, float]


def rows(model: str) -> Iterator[Row]:
    """Every speed that the model can be held at."""
    plane = load(str(HERE / f"{model}.yaml"))
    performance, gross = derive(plane), plane.weights.gross
    trial = Trial(model, gross / POUND, plane.wing.area / FOOT**2)
    propeller, rated = performance.propeller, plane.engine.rated_power
    for power in POWERS:
        for kt in SPEEDS_KT:
            if kt < 1.03 * stall_speed(performance, gross) / KNOT:
                continue
            try:
                hp = math.inf if power is None else power * rated / HORSEPOWER
                flown = trial.climb(float(kt), hp)
            except Problem as problem:
                print(problem, file=sys.stderr)
                continue
            speed, height = flown.tas_kt * KNOT, flown.altitude_ft * FOOT
            air = density(height)
            throttle = 1.0 if power is None else propeller.throttle_for_power(power, speed, air)
            turns = propeller.output(throttle, speed, air).turns
            # A governor's revolutions are not the coach's to say: torque at JSBSim's.
            known = flown.rpm / 60.0 if math.isnan(turns) else turns
            watt = propeller.output(throttle, speed, air).power * rated
            foot_pound = POUND * STANDARD_GRAVITY * FOOT
            yield Row(
                model,
                power,
                flown.ias_kt,
                (propeller.output(throttle, speed, air).thrust / POUND / STANDARD_GRAVITY,
                 flown.thrust_lbf),
                (watt / (2.0 * math.pi * known) / foot_pound,
                 flown.power_hp * 550.0 * 60.0 / (2.0 * math.pi * flown.rpm)),
                (60.0 * turns, flown.rpm),
                (60.0 / FOOT * climb_rate(performance, gross, power, height, speed),
                 -60.0 * flown.sink_fps),
            )  # fmt: skip


def table(found: list[Row]) -> str:
    """Markdown; each cell is the coach's, JSBSim's, and how many percent the first is more."""
    lines = [
        "| model | power | kt | thrust, lbf | torque, lb ft | rpm | climb, ft/min |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in found:
        cells = [_cell(*pair) for pair in one[3:]]
        power = "full" if one.power is None else f"{one.power:.0%}"
        lines.append(f"| {one.model} | {power} | {one.ias_kt:.0f} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _cell(mine: float, theirs: float) -> str:
    if math.isnan(mine):
        return f"- / {theirs:.0f}"
    return f"{mine:.0f} / {theirs:.0f} ({100.0 * (mine - theirs) / abs(theirs):+.1f} %)"


def draw(found: list[Row], path: Path) -> None:
    """The same as a picture: JSBSim's as dots, the coach's as lines."""
    from matplotlib.figure import Figure

    shown = ("thrust_lbf", "torque_lbft", "rpm", "climb_fpm")
    figure = Figure(figsize=(14, 6), layout="constrained")
    axes = figure.subplots(len(MODELS), len(shown), squeeze=False)
    for across, model in zip(axes, MODELS, strict=True):
        for axis, field in zip(across, shown, strict=True):
            for power, colour in zip(POWERS, ("C0", "C1"), strict=True):
                these = [one for one in found if one.model == model and one.power == power]
                speeds = [one.ias_kt for one in these]
                mine, theirs = zip(*(getattr(one, field) for one in these), strict=True)
                name = "full throttle" if power is None else f"{power:.0%} of rated"
                axis.plot(speeds, mine, color=colour, label=name)
                axis.plot(speeds, theirs, "o", color=colour)
            axis.set(title=f"{model}: {field.replace('_', ', ')}", xlabel="indicated airspeed, kt")
            if field == "rpm":
                axis.set_ylim(2000.0, 3100.0)
    axes[0][0].legend()
    figure.suptitle("Lines: derived from the handbook's numbers. Dots: JSBSim.")
    figure.savefig(path)


def main(picture: str | None = None) -> None:
    """Print the table, and draw it where a file is named."""
    found = [row for model in MODELS for row in rows(model)]
    print(table(found))
    if picture is not None:
        draw(found, Path(picture))


if __name__ == "__main__":
    main(*sys.argv[1:2])
