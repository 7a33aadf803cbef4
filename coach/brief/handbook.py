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
from coach.flight.airplane import Airplane
from coach.flight.atmosphere import density, indicated_airspeed
from coach.flight.derived import best_climb, best_glide, level_speed, sink
from coach.flight.fit import derive, thrust_share
from coach.flight.performance import Performance
from coach.flight.propeller import EFFICIENCY, OF_IDEAL_THRUST
from coach.flight.speeds import maneuvering_speed, stall_speed
from coach.script.quantities import DEGREE, FOOT, KNOT, POUND

BANKS = (0, 30, 45, 60)
ALTITUDES_FT = (0, 6000)
POWERS = (0.55, 0.65, 0.75)

FEET_A_MINUTE = FOOT / 60.0


def sheet(airplane: Airplane) -> RenderableType:
    """Everything derived: by weight, by power, and what the model took for granted."""
    performance = derive(airplane)
    return Group(
        Text(called(airplane), style="bold"),
        Text("Standard day, flaps and gear up; speeds in knots indicated unless said otherwise.\n"),
        Text("By weight", style="bold"),
        _by_weight(airplane, performance),
        Text("Level flight and climb at gross weight", style="bold"),
        _by_power(airplane, performance),
        Text("Behind it", style="bold"),
        Padding(_model(airplane, performance), (0, 0, 0, 1)),
        Text(
            "\nWhat the file gives comes out again; what it does not give, held against the "
            "handbook, shows where the model misses. It knows no flaps, no gear, no ground effect.",
            style="dim",
        ),
    )


def _by_weight(airplane: Airplane, performance: Performance) -> RenderableType:
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


def _by_power(airplane: Airplane, performance: Performance) -> RenderableType:
    gross = airplane.weights.gross
    table = _table("", *map(_level, ALTITUDES_FT))
    for power in (*POWERS, None):
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
