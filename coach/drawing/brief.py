"""The brief as one printable picture: the nose's path over the horizon, and four traces."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from coach.drawing.labels import Floats, Place, Space
from coach.drawing.style import INK, LABEL, PAPER, SOFT, line, plain
from coach.drawing.track import draw_track, shape
from coach.flight.flight import Flight
from coach.problems import ending, written
from coach.words import CAUTION, numbered, side_of, three_figures

WIDE = 1.8
"""A track at least so much wider than high stands above the traces, another one beside them."""

LEAST_RANGE = 10.0
"""No trace shows less than this from bottom to top, in its own unit."""

TRACES = (
    ("ias_kt", "speed, kt"),
    ("altitude_ft", "altitude, ft"),
    ("pitch_deg", "pitch, deg"),
    ("bank_deg", "bank, deg"),
)


def draw(flight: Flight, path: Path, *, upright: bool = False) -> None:
    """Draw the brief's picture.

    Args:
        flight: the flight.
        path: where to; ``.png`` or ``.svg``.
        upright: only what is drawn, for a phone, where the rest stands beside the picture.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    form = ending(path, ".png", ".svg")
    size = (3.6, 8.6) if upright else (11.0, 8.5)
    figure = Figure(figsize=size, layout="constrained", facecolor=PAPER)
    by_nose, wide = bool(flight.maneuver.references), shape(flight)
    if by_nose or upright or wide > WIDE:
        rows = figure.add_gridspec(5, 1, height_ratios=(2.6 if by_nose else 3.6, 1, 1, 1, 1))
        main = figure.add_subplot(rows[0])
        panels = [figure.add_subplot(rows[row]) for row in range(1, 5)]
    else:
        narrow = min(1.1, max(0.5, 1.5 * wide))
        halves = figure.add_gridspec(4, 2, width_ratios=(narrow, 1))
        main = figure.add_subplot(halves[:, 0])
        panels = [figure.add_subplot(halves[row, 1]) for row in range(4)]
    label = _nose(main, flight, upright=upright) if by_nose else draw_track(main, flight)
    for axes, (column, called) in zip(panels, TRACES, strict=True):
        _trace(axes, flight, column, called)
        axes.set_xlim(0.0, flight.length_s)
        axes.tick_params(labelbottom=axes is panels[-1])
    panels[-1].set_xlabel("seconds from the start", fontsize=9)
    if not upright:
        title = f"{flight.maneuver.title} — {flight.airplane.title}"
        figure.suptitle(title, color=INK, fontsize=14)
        figure.supxlabel(textwrap.fill(CAUTION, 130), color=INK, fontsize=10)
    label()
    with written(path) as part:
        figure.savefig(part, format=form[1:], dpi=130)


def _nose(axes: Axes, flight: Flight, *, upright: bool) -> Callable[[], None]:
    """Where the nose points: heading across, pitch up and down, the references as posts.

    Returns:
        What writes the checkpoints' names, once the figure keeps its limits.
    """
    table, lines, named = flight.table(20.0), list[Floats](), list[tuple[str, Place]]()
    entry = float(np.degrees(flight.conditions.heading))
    for loop in range(1, len(flight.sides) + 1):
        chosen = table["loop"] == loop
        heading = np.degrees(np.unwrap(np.radians(table["heading_deg"][chosen]))) - entry
        # Loops are joined where they meet, on the turn of the full circle nearest to the entry.
        heading -= 360.0 * np.round(heading.mean() / 360.0)
        axes.plot(heading, table["pitch_deg"][chosen], **line(flight, loop), linewidth=1.8)
        lines.append(np.column_stack([heading, table["pitch_deg"][chosen]]))
        for moment in flight.moments:
            if moment.loop == loop:
                at = (moment.heading_deg - entry - heading.mean() + 180.0) % 360.0 - 180.0
                place = (float(at + heading.mean()), moment.pitch_deg)
                axes.plot(*place, "o", color=INK, markersize=4)
                if loop in (1, 3):
                    named.append((moment.name, place))
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.25 * (high - low))
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.axhspan(low, 0.0, color="#efefef", zorder=0)
    left, right = axes.get_xlim()
    posts = {
        round(heading_deg - entry + turn): (name, three_figures(heading_deg))
        for name, heading_deg in flight.references()
        for turn in (-360.0, 0.0, 360.0)
        if left <= heading_deg - entry + turn <= right
    }
    if upright:
        axes.set_xticks(list(posts), [", ".join(label) for label in posts.values()], rotation=90)
    else:
        axes.set_xticks(list(posts), ["\n".join((f"{at:+d}°", *posts[at])) for at in posts])
        axes.set_title("Where the nose points, against the outside references", fontsize=10)
    axes.grid(axis="x", color=SOFT, linewidth=0.6, linestyle=":")
    axes.set_ylabel("nose above level, deg", fontsize=9)
    for side, name in ((flight.sides[0], "first side"), (-flight.sides[0], "other side")):
        if side in flight.sides:
            loops = [n + 1 for n, one in enumerate(flight.sides) if one == side]
            label = f"turning {side_of(side)}, {name} ({numbered('loop', loops)})"
            axes.plot([], [], **line(flight, flight.sides.index(side) + 1), label=label)
    # Where it is narrow, the legend would hide the path.
    above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0)}
    within: dict[str, Any] = {"loc": "upper center", "ncols": 2}
    axes.legend(**(above if upright else within), fontsize=9, frameon=False)
    plain(axes)
    across = np.linspace(left, right, 500)
    lines.append(np.column_stack([across, np.zeros_like(across)]))

    def label_all() -> None:
        space = Space(axes, lines)
        for name, place in named:
            space.write(name, place, LABEL, INK)

    return label_all


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
    plain(axes)
