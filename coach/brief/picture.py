"""The brief as one printable picture: the nose's path over the horizon, and four traces."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from coach.caution import CAUTION
from coach.flight.flight import Flight
from coach.problems import ending, written
from coach.script.quantities import KNOT

INK, SOFT, PAPER = "#1b1b1b", "#8a8a8a", "#ffffff"
FIRST, OTHER = "#1f4e79", "#b5541c"
"""Colours of loops to the first side and to the other; the latter is dashed as well."""

LEAST_RANGE = 10.0
"""No trace shows less than this from bottom to top, in its own unit."""

TRACES = (
    ("ias_kt", "speed, kt"),
    ("altitude_ft", "altitude, ft"),
    ("pitch_deg", "pitch, deg"),
    ("bank_deg", "bank, deg"),
)


def draw(flight: Flight, path: Path) -> None:
    """Draw the brief's picture.

    Args:
        flight: the flight.
        path: where to; ``.png`` or ``.svg``.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    form = ending(path, ".png", ".svg")
    figure = Figure(figsize=(11.0, 8.5), layout="constrained", facecolor=PAPER)
    figure.suptitle(f"{flight.maneuver.title} — {flight.airplane.title}", color=INK, fontsize=14)
    if flight.maneuver.references:
        rows = figure.add_gridspec(5, 1, height_ratios=(2.6, 1, 1, 1, 1))
        _nose(figure.add_subplot(rows[0]), flight)
        panels = [figure.add_subplot(rows[row]) for row in range(1, 5)]
    else:
        halves = figure.add_gridspec(4, 2, width_ratios=(1.1, 1))
        _ground(figure.add_subplot(halves[:, 0]), flight)
        panels = [figure.add_subplot(halves[row, 1]) for row in range(4)]
    for axes, (column, label) in zip(panels, TRACES, strict=True):
        _trace(axes, flight, column, label)
        axes.set_xlim(0.0, flight.length_s)
        axes.tick_params(labelbottom=axes is panels[-1])
    panels[-1].set_xlabel("seconds from the start", fontsize=9)
    figure.supxlabel(textwrap.fill(CAUTION, 130), color=INK, fontsize=10)
    with written(path) as part:
        figure.savefig(part, format=form[1:], dpi=130)


def _nose(axes: Axes, flight: Flight) -> None:
    """Where the nose points: heading across, pitch up and down, the references as posts."""
    table = flight.table(20.0)
    entry = float(np.degrees(flight.conditions.heading))
    for loop in range(1, len(flight.sides) + 1):
        chosen = table["loop"] == loop
        heading = np.degrees(np.unwrap(np.radians(table["heading_deg"][chosen]))) - entry
        # Loops are joined where they meet, on the turn of the full circle nearest to the entry.
        heading -= 360.0 * np.round(heading.mean() / 360.0)
        axes.plot(heading, table["pitch_deg"][chosen], **_line(flight, loop), linewidth=1.8)
        for moment in flight.moments:
            if moment.loop == loop:
                at = (moment.heading_deg - entry - heading.mean() + 180.0) % 360.0 - 180.0
                axes.plot(at + heading.mean(), moment.pitch_deg, "o", color=INK, markersize=4)
                if loop in (1, 3):
                    axes.annotate(
                        moment.name,
                        (at + heading.mean(), moment.pitch_deg),
                        xytext=(5, 5),
                        textcoords="offset points",
                        fontsize=9,
                        color=INK,
                    )
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.25 * (high - low))
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.axhspan(low, 0.0, color="#efefef", zorder=0)
    left, right = axes.get_xlim()
    posts = {
        round(heading_deg - entry + turn): f"{name}\n{round(heading_deg) % 360 or 360:03d}"
        for name, heading_deg in flight.references()
        for turn in (-360.0, 0.0, 360.0)
        if left <= heading_deg - entry + turn <= right
    }
    axes.set_xticks(list(posts), [f"{at:+d}°\n{label}" for at, label in posts.items()])
    axes.grid(axis="x", color=SOFT, linewidth=0.6, linestyle=":")
    axes.set_ylabel("nose above level, deg", fontsize=9)
    axes.set_title("Where the nose points, against the outside references", fontsize=10)
    for side, name in ((flight.sides[0], "first side"), (-flight.sides[0], "other side")):
        if side in flight.sides:
            loops = [str(n + 1) for n, one in enumerate(flight.sides) if one == side]
            way = "right" if side > 0 else "left"
            label = f"turning {way}, {name} (loop {', '.join(loops)})"
            axes.plot([], [], **_line(flight, flight.sides.index(side) + 1), label=label)
    axes.legend(loc="upper center", ncols=2, fontsize=9, frameon=False)
    _plain(axes)


def _ground(axes: Axes, flight: Flight) -> None:
    """The track over the ground, north up, with the wind and the checkpoints of the first loop."""
    table = flight.table()
    east_ft, north_ft = table["east_ft"], table["north_ft"]
    for loop in range(1, len(flight.sides) + 1):
        chosen = table["loop"] == loop
        axes.plot(
            east_ft[chosen],
            north_ft[chosen],
            **_line(flight, loop),
            linewidth=1.8,
        )
    wide = max(np.ptp(east_ft), np.ptp(north_ft), 1.0)
    near = 0.04 * wide
    # Room around it, as if it were flown: equal scales take a mere margin away again.
    knots = flight.conditions.wind_speed / KNOT
    room, above = 0.1 * wide, (0.2 if knots > 0.5 else 0.1) * wide
    lowest = (east_ft.min() - room, north_ft.min() - room)
    axes.update_datalim([lowest, (east_ft.max() + room, north_ft.max() + above)])
    named: list[tuple[tuple[float, float], list[str]]] = []
    for moment in flight.moments:
        at = flight.at([moment.time_s])
        place = (float(at["east_ft"][0]), float(at["north_ft"][0]))
        axes.plot(*place, "o", color=INK, markersize=4)
        if moment.loop == 1:  # a place that is passed several times has its names one below another
            here = [names for other, names in named if math.dist(place, other) < near]
            if here:
                here[0].append(moment.name)
            else:
                named.append((place, [moment.name]))
    for place, names in named:
        axes.annotate(
            "\n".join(names),
            place,
            xytext=(6, 4),
            textcoords="offset points",
            fontsize=9,
            color=INK,
        )
    heading = flight.conditions.heading
    axes.annotate(
        "start",
        (0.0, 0.0),
        xytext=(-28.0 * math.sin(heading), -28.0 * math.cos(heading)),
        textcoords="offset points",
        arrowprops={"arrowstyle": "->", "color": INK},
        ha="center",
        va="center",
        fontsize=9,
        color=INK,
    )
    if knots > 0.5:
        east, north = (part / flight.conditions.wind_speed for part in flight.conditions.wind)
        axes.annotate(
            "",
            (0.1 + 0.06 * east, 0.93 + 0.06 * north),
            (0.1 - 0.06 * east, 0.93 - 0.06 * north),
            xycoords="axes fraction",
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.6},
        )
        axes.text(0.15, 0.93, f"wind {knots:.0f} kt", transform=axes.transAxes, fontsize=9)
    axes.set_title("The track over the ground, north up", fontsize=10)
    axes.set_xlabel("feet east of the start", fontsize=9)
    axes.set_ylabel("feet north of the start", fontsize=9)
    axes.margins(0.02)
    axes.set_aspect("equal", adjustable="datalim")
    _plain(axes)


def _trace(axes: Axes, flight: Flight, column: str, label: str) -> None:
    """One value over time, with the loops' seams and the checkpoints on it."""
    table = flight.table()
    axes.plot(table["t_s"], table[column], color=INK, linewidth=1.4)
    for moment in flight.moments:
        axes.plot(moment.time_s, getattr(moment, column), "o", color=INK, markersize=3.5)
        if moment.name == flight.maneuver.checkpoints[-1].name:
            axes.axvline(moment.time_s, color=SOFT, linewidth=0.7, linestyle=":")
    axes.set_ylabel(label, fontsize=9)
    axes.margins(y=0.15)
    axes.ticklabel_format(axis="y", useOffset=False)
    low, high = axes.get_ylim()
    wide = max(0.0, LEAST_RANGE - (high - low)) / 2.0  # what is held is not to look like a wave
    axes.set_ylim(low - wide, high + wide)
    _plain(axes)


def _line(flight: Flight, loop: int) -> dict[str, Any]:
    same = flight.sides[loop - 1] == flight.sides[0]
    return {"color": FIRST if same else OTHER, "linestyle": "-" if same else "--"}


def _plain(axes: Axes) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=8)
