"""The brief as one printable picture: the nose's path over the horizon, and four traces."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import Any

import numpy as np

from coach.drawing.figure import (
    NARROW,
    WIDE,
    Target,
    dot,
    foot,
    head,
    picture,
    plain,
    room_for_trace,
)
from coach.drawing.labels import Place, Space
from coach.drawing.palette import EARTH, FLOWN, INK, LETTERS, SEAM, SOFT
from coach.drawing.plotting import Axes, Figure
from coach.drawing.track import draw_track, loop_line, shape
from coach.flight.flight import Flight
from coach.flight.history import Floats
from coach.words import CAUTION, numbered, side_of, three_figures, titled

BROAD = 1.8
"""A track at least so much wider than high stands above the traces, another one beside them."""

TRACES = (
    ("ias_kt", "speed, kt"),
    ("altitude_ft", "altitude, ft"),
    ("pitch_deg", "pitch, deg"),
    ("bank_deg", "bank, deg"),
)


def draw(flight: Flight, target: Target, *, upright: bool = False) -> None:
    """Draw the brief's picture.

    Args:
        flight: the flight.
        target: where to.
        upright: only what is drawn, for a phone, where the rest stands beside the picture.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    wide, high = (NARROW, 8.6) if upright else (WIDE, 8.5)
    with picture(target, wide, high) as figure:
        label = _panels(figure, flight, upright=upright)
        if not upright:
            head(figure, titled(flight.maneuver.title, flight.airplane.title))
            foot(figure, textwrap.fill(CAUTION, 130), 10)
        label()


def _panels(figure: Figure, flight: Flight, *, upright: bool) -> Callable[[], None]:
    """Draw the panels.

    Returns:
        What writes on the first one, once the figure keeps its limits.
    """
    by_nose, wide = bool(flight.maneuver.references), shape(flight)
    if by_nose or upright or wide > BROAD:
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
    panels[-1].set_xlabel("seconds from the start", fontsize=LETTERS)
    return label


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
        axes.plot(heading, table["pitch_deg"][chosen], **loop_line(flight, loop), linewidth=FLOWN)
        lines.append(np.column_stack([heading, table["pitch_deg"][chosen]]))
        for moment in flight.moments:
            if moment.loop == loop:
                at = (moment.heading_deg - entry - heading.mean() + 180.0) % 360.0 - 180.0
                place = (float(at + heading.mean()), moment.pitch_deg)
                dot(axes, *place)
                if loop in (1, 3):
                    named.append((moment.name, place))
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.25 * (high - low))
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.axhspan(low, 0.0, color=EARTH, zorder=0)
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
    axes.set_ylabel("nose above level, deg", fontsize=LETTERS)
    for side, name in ((flight.sides[0], "first side"), (-flight.sides[0], "other side")):
        if side in flight.sides:
            loops = [n + 1 for n, one in enumerate(flight.sides) if one == side]
            label = f"turning {side_of(side)}, {name} ({numbered('loop', loops)})"
            axes.plot([], [], **loop_line(flight, flight.sides.index(side) + 1), label=label)
    # Where it is narrow, the legend would hide the path.
    above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0)}
    within: dict[str, Any] = {"loc": "upper center", "ncols": 2}
    axes.legend(**(above if upright else within), fontsize=LETTERS, frameon=False)
    plain(axes)
    across = np.linspace(left, right, 500)
    lines.append(np.column_stack([across, np.zeros_like(across)]))

    def label_all() -> None:
        space = Space(axes, lines)
        for name, place in named:
            space.write(name, place, LETTERS, INK)

    return label_all


def _trace(axes: Axes, flight: Flight, column: str, label: str) -> None:
    """One value over time, with the loops' seams and the checkpoints on it."""
    table = flight.table()
    axes.plot(table["t_s"], table[column], color=INK, linewidth=1.4)
    for moment in flight.moments:
        dot(axes, moment.time_s, getattr(moment, column), 3.5)
        if moment.name == flight.maneuver.checkpoints[-1].name:
            axes.axvline(moment.time_s, color=SOFT, **SEAM)
    axes.set_ylabel(label, fontsize=LETTERS)
    room_for_trace(axes)
    plain(axes)
