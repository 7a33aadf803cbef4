"""What an airplane's file leads to, as tables to hold against its handbook."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.brief.board import called
from coach.callouts.own import POWERS, SPEEDS
from coach.flight.airplane import Airplane
from coach.flight.atmosphere import density, indicated_airspeed
from coach.flight.derived import (
    best_climb,
    best_glide,
    climb_rate,
    level_at,
    level_speed,
    needed,
    path_rate_at,
    sink,
    steepest_climb,
)
from coach.flight.fit import derive, thrust_share
from coach.flight.performance import Performance
from coach.flight.propeller import EFFICIENCY, OF_IDEAL_THRUST
from coach.flight.setting import Setting
from coach.flight.speeds import USUAL, maneuvering_speed, stall_speed
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND
from coach.tables import Whole

BANKS = (0, 30, 45, 60)
ALTITUDES_FT = (0, 6000)
SHARES = (0.55, 0.65, 0.75)

FEET_A_MINUTE = FOOT / 60.0

SLOW = 8.0 * KNOT
"""Slow flight above the stall: where many warnings are about to sound (common practice, no
source)."""


def sheet(airplane: Airplane) -> RenderableType:
    """Everything derived: by weight, by power, and what the model took for granted."""
    performance = derive(airplane)
    return Group(
        Text(called(airplane), style="bold"),
        Text("Standard day, flaps and gear up; speeds in knots indicated unless said otherwise.\n"),
        Text("By weight", style="bold"),
        Whole(_by_weight(airplane, performance)),
        Text("Level flight and climb at gross weight", style="bold"),
        Whole(_by_power(airplane, performance)),
        *_flown_by(airplane, performance),
        Text("Behind it", style="bold"),
        Padding(_model(airplane, performance), (0, 0, 0, 1)),
        Text(
            "\nWhat the file gives comes out again; what it does not give, held against the "
            "handbook, shows where the model misses. It knows no flaps, no gear, no ground effect.",
            style="dim",
        ),
    )


def _by_weight(airplane: Airplane, performance: Performance) -> Table:
    gross, empty = airplane.weights.gross, airplane.weights.empty
    masses = [gross - part * (gross - empty) for part in (0.0, 1 / 3, 2 / 3)]
    table = _table("", *(f"{mass / POUND:,.0f} lb" for mass in masses))
    for bank in BANKS:
        load = 1.0 / math.cos(bank * DEGREE)
        stalls = [stall_speed(performance, mass, load) / KNOT for mass in masses]
        where = f"at {bank}° of bank, level turn" if bank else "wings level"
        table.add_row(f"stall, {where}", *_whole(stalls))
    table.add_row(
        "maneuvering", *_whole([maneuvering_speed(airplane, mass) / KNOT for mass in masses])
    )
    glides = [best_glide(performance, mass) for mass in masses]
    table.add_row("best glide, propeller windmilling", *_whole([g.speed / KNOT for g in glides]))
    table.add_row("  its ratio", *(f"{glide.ratio:.1f}" for glide in glides))
    for altitude in ALTITUDES_FT:
        rates = [sink(performance, mass, altitude * FOOT) / FEET_A_MINUTE for mass in masses]
        table.add_row(f"  feet a minute down at {_level(altitude)}", *_tens(rates))
    return table


def _by_power(airplane: Airplane, performance: Performance) -> Table:
    gross = airplane.weights.gross
    table = _table("", *map(_level, ALTITUDES_FT))
    for power in (*SHARES, None):
        name = "full throttle" if power is None else f"{100 * power:.0f} %"
        speeds = [level_speed(performance, gross, power, level * FOOT) for level in ALTITUDES_FT]
        table.add_row(f"{name}, true (indicated)", *map(_speed, speeds, ALTITUDES_FT))
        turns = [_turning(performance, power, *at) for at in zip(speeds, ALTITUDES_FT, strict=True)]
        if power is None:
            table.add_row("  which is, of rated power", *(share for share, _ in turns))
        if airplane.engine.propeller == "fixed pitch":
            table.add_row("  revolutions a minute", *(rpm for _, rpm in turns))
    climbs = [best_climb(performance, gross, altitude * FOOT) for altitude in ALTITUDES_FT]
    table.add_row(
        "best climb, feet a minute", *_tens([climb.rate / FEET_A_MINUTE for climb in climbs])
    )
    table.add_row("  its speed", *_whole([climb.speed / KNOT for climb in climbs]))
    return table


def _flown_by(airplane: Airplane, performance: Performance) -> list[RenderableType]:
    """What a student flies by, beside what the model makes of it; nothing where none is given."""
    speeds, gross = airplane.speeds, airplane.weights.gross
    table = _table("", "the file", "the model at sea level")
    climbs = {
        "best rate": best_climb(performance, gross, 0.0),
        "best angle": steepest_climb(performance, gross, 0.0),
    }
    for name in SPEEDS:
        speed, row = getattr(speeds, name), name.replace("_", " ")
        if speed is None:
            continue
        model = f"{speed / speeds.stall:.2f} times the clean stall" if row in USUAL else ""
        if row in climbs:
            best, here = climbs[row], climb_rate(performance, gross, None, 0.0, speed)
            model = f"{best.speed / KNOT:.0f} kt; here {_feet(here)}"
        table.add_row(row, f"{speed / KNOT:.0f} kt", model)
    if airplane.flaps is not None:
        steps = [f"{step / DEGREE:.0f}°" for step in airplane.flaps]
        table.add_row("flaps", ", ".join(steps) or "none", "")
    if airplane.gear is not None:
        table.add_row("gear", airplane.gear, "")
    for name, setting in airplane.power:
        if setting is not None:
            made = _made_of(airplane, performance, name, setting)
            table.add_row(POWERS[f"{name}_power"], setting.text.removesuffix(" power"), made)
    return [Text("What is flown by", style="bold"), Whole(table)] if table.row_count else []


def _made_of(airplane: Airplane, performance: Performance, name: str, setting: Setting) -> str:
    """What the model makes of a power setting: a speed, or climb or descent at one."""
    gross, speeds = airplane.weights.gross, airplane.speeds
    at = {"climb": speeds.best_rate, "approach": speeds.approach, "descent": speeds.maneuvering}
    if name == "slow_flight":
        slow = speeds.stall + SLOW
        share, turns = needed(performance, gross, 0.0, slow)
        takes = f"{100 * share:.0f} %" if math.isnan(turns) else f"{10 * round(6 * turns):,} rpm"
        return f"level at {slow / KNOT:.0f} kt takes {takes}"
    if setting.inches is not None:
        return "not known"
    if name in at:
        if (speed := at[name]) is None:
            return ""
        rate = path_rate_at(performance, gross, 0.0, speed, setting)
        told = "none" if rate is None else _feet(rate)
        return f"{told} at {speed / KNOT:.0f} kt"
    level = level_at(performance, gross, 0.0, setting)
    return "holds no level flight" if level is None else f"level at {level / KNOT:.0f} kt"


def _feet(rate: float) -> str:
    return f"{10 * round(rate / FEET_A_MINUTE / 10):+,} ft/min"


def _model(airplane: Airplane, performance: Performance) -> RenderableType:
    lowest = performance.least_drag_lift
    rows = [
        (
            "polar",
            f"CD = {performance.least_drag:.4f} + {performance.induced_drag:.4f} "
            + (f"(CL - {lowest:.2f})²" if lowest else "CL²"),
        ),
        ("windmilling", f"adds {performance.windmill_drag:.4f} to CD with the power off"),
        ("greatest lift", f"CL = {performance.greatest_lift:.2f}"),
        ("propeller", _propeller(airplane, performance)),
        ("full throttle", _full_throttle(airplane, performance)),
    ]
    if not performance.windmill_drag:
        rows[1] = ("windmilling", "no drag of its own shows in these numbers")
    grid = Table.grid(padding=(0, 2))
    for name, value in rows:
        grid.add_row(name, value)
    return grid


def _propeller(airplane: Airplane, performance: Performance) -> str:
    """How well it pulls in cruise, and what was taken for granted for want of a number."""
    if airplane.engine.propeller == "fixed pitch":
        usual, of = EFFICIENCY, "efficiency"
    else:
        usual, of = OF_IDEAL_THRUST, "of an ideal one's thrust"
    found = thrust_share(airplane, performance) * usual
    told = f"{found:.2f} {of} in cruise"
    if found < usual - 0.005:
        told += f", less than the usual {usual:.2f}, as cruise is slow for this glide"
    else:
        told += ", as usual"
    if airplane.engine.propeller == "fixed pitch" and airplane.cruise.revolutions is None:
        told += "; its revolutions are a guess, as the cruise row gives none"
    return told


def _full_throttle(airplane: Airplane, performance: Performance) -> str:
    """What the engine gives there, and how that is known."""
    if airplane.climb is None:
        return "as rated, by a usual propeller, as the file gives no climb"
    climb = airplane.climb
    return (
        f"{performance.propeller.strength:.0%} of what the engine is rated for, by the climb of "
        f"{climb.rate / FEET_A_MINUTE:.0f} feet a minute"
    )


def _table(*columns: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0))
    for index, column in enumerate(columns):
        table.add_column(column, justify="right" if index else "left", no_wrap=True)
    return table


def _speed(true: float | None, altitude_ft: int) -> str:
    if true is None:
        return "-"
    air = density(altitude_ft * FOOT)
    return f"{true / KNOT:.0f} ({indicated_airspeed(true, air) / KNOT:.0f})"


def _turning(
    performance: Performance, power: float | None, speed: float | None, altitude_ft: int
) -> tuple[str, str]:
    """Power of rated power and revolutions a minute in level flight."""
    if speed is None:
        return "-", "-"
    propeller, air = performance.propeller, density(altitude_ft * FOOT)
    throttle = 1.0 if power is None else propeller.throttle_for_power(power, speed, air)
    _, share, turns = propeller.output(throttle, speed, air)
    return f"{100 * share:.0f} %", f"{round(60 * turns, -1):,.0f}" if turns == turns else "-"


def _level(altitude_ft: int) -> str:
    return f"{altitude_ft:,} ft" if altitude_ft else "sea level"


def _whole(values: Sequence[float]) -> list[str]:
    return [f"{value:.0f}" for value in values]


def _tens(values: Sequence[float]) -> list[str]:
    return [f"{10 * round(value / 10):,}" for value in values]
