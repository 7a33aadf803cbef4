"""The brief as one printable picture: the nose's path over the horizon, and four traces."""

from __future__ import annotations

import textwrap
from collections.abc import Callable

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
from coach.drawing.nose import draw_nose
from coach.drawing.palette import INK, LETTERS, SEAM, SOFT
from coach.drawing.plotting import Axes, Figure
from coach.drawing.track import draw_track, shape
from coach.flight.flight import Flight
from coach.words import CAUTION, titled

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
    label = draw_nose(main, flight, upright=upright) if by_nose else draw_track(main, flight)
    for axes, (column, called) in zip(panels, TRACES, strict=True):
        _trace(axes, flight, column, called)
        axes.set_xlim(0.0, flight.length_s)
        axes.tick_params(labelbottom=axes is panels[-1])
    panels[-1].set_xlabel("seconds from the start", fontsize=LETTERS)
    return label


def _trace(axes: Axes, flight: Flight, column: str, label: str) -> None:
    """One value over time, with the loops' seams and the checkpoints on it."""
    table = flight.table()
    axes.plot(table["t_s"], table[column], color=INK, linewidth=1.4)
    for moment in flight.moments:
        dot(axes, moment.time_s, getattr(moment, column), 3.5, clip_on=False)
        if moment.name == flight.maneuver.checkpoints[-1].name:
            axes.axvline(moment.time_s, color=SOFT, **SEAM)
    axes.set_ylabel(label, fontsize=LETTERS)
    room_for_trace(axes)
    plain(axes)
