"""What the brief's pictures have in common."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes

from coach.flight.flight import Flight

INK, SOFT, PAPER = "#1b1b1b", "#6f6f6f", "#ffffff"
FIRST, OTHER = "#1f4e79", "#b5541c"
"""Colours of loops to the first side and to the other; the latter is dashed as well."""

LABEL = 9
"""Size of what is written on a panel, points."""


def line(flight: Flight, loop: int) -> dict[str, Any]:
    """How a loop is drawn."""
    same = flight.sides[loop - 1] == flight.sides[0]
    return {"color": FIRST if same else OTHER, "linestyle": "-" if same else "--"}


def plain(axes: Axes) -> None:
    """No more frame than is needed."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=8)
