"""Where to write on a drawing: beside its place, and on nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from coach.drawing.plotting import Axes, Bbox
from coach.flight.history import Floats

Place = tuple[float, float]

GAP = 7.0
"""Points between a place and its label."""

WAYS = [math.radians(turn) for turn in (30, -30, 150, 210, 90, -90, 0, 180)]
"""Where a label may stand as seen from its place, the first one best; counter-clockwise."""

ON_A_LABEL, OUTSIDE = 1000, 10_000
"""What it costs to cover another label, or to reach beyond the panel, in points of a line."""


class Space:
    """What is taken on one panel of a figure whose panels have their final limits, in pixels."""

    def __init__(self, axes: Axes, lines: Iterable[Floats]) -> None:
        """Take note of lines, each an array of places in the panel's own units, shape (n, 2)."""
        figure = axes.get_figure(root=True)
        assert figure is not None
        figure.draw_without_rendering()
        self.axes = axes
        self.lines = axes.transData.transform(np.concatenate(list(lines)))
        self.frame = axes.get_window_extent()
        self.taken: list[Bbox] = []
        self.point = figure.dpi / 72.0

    def take(self, candidates: Sequence[Bbox]) -> int:
        """The candidate that covers least, the first of equals; it is taken from then on."""
        costs = [self._cost(box) for box in candidates]
        best = costs.index(min(costs))
        self.taken.append(candidates[best])
        return best

    def write(self, text: str, place: Place, size: float, color: str) -> None:
        """Write a label beside a place, given in the panel's own units."""
        label = self.axes.annotate(
            text, place, (0.0, 0.0), textcoords="offset points", fontsize=size, color=color,
            ha="center", va="center",
        )  # fmt: skip
        label.set_in_layout(False)
        box = label.get_window_extent()
        x, y = self.axes.transData.transform(place)
        away = [
            (
                math.cos(way) * (GAP * self.point + 0.5 * box.width),
                math.sin(way) * (GAP * self.point + 0.5 * box.height),
            )
            for way in WAYS
        ]
        chosen = away[self.take([_around(x + e, y + n, box.width, box.height) for e, n in away])]
        label.set_position((chosen[0] / self.point, chosen[1] / self.point))

    def _cost(self, box: Bbox) -> float:
        inside = (self.lines > box.min).all(axis=1) & (self.lines < box.max).all(axis=1)
        covered = sum(box.overlaps(other) for other in self.taken)
        out = not (self.frame.contains(*box.min) and self.frame.contains(*box.max))
        return float(inside.sum()) + ON_A_LABEL * covered + OUTSIDE * out


def _around(x: float, y: float, width: float, height: float) -> Bbox:
    return Bbox.from_bounds(x - 0.5 * width, y - 0.5 * height, width, height)
