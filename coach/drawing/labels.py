"""Where to write on a drawing: beside its place, and on nothing else."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from coach.drawing.palette import LETTERS, PAPER, SOFT
from coach.drawing.plotting import Axes, Bbox
from coach.flight.history import Floats
from coach.flight.moment import Moment

Place = tuple[float, float]

GAP = 7.0
"""Points between a place and its label."""

WAYS = [math.radians(turn) for turn in (30, -30, 150, 210, 90, -90, 0, 180)]
"""Where a label may stand as seen from its place, the first one best; counter-clockwise."""

FAR_WAYS = [*WAYS, *(math.radians(turn) for turn in (60, -60, 120, 240, 15, -15, 165, 195))]
"""And where it stands farther away."""

FARTHER = 4
"""What each step farther away costs, in the same."""

ON_A_LABEL, OUTSIDE = 1000, 10_000
"""What it costs to cover another label, or to reach beyond the panel, in points of a line."""


@dataclass(frozen=True)
class Lettering:
    """How the checkpoints of a drawing are written.

    Attributes:
        size: of letters, points.
        told: what is written at one, line by line.
        loops: those in which they are.
        dot: the size of what marks one.
        far: as in `Space.write`.
        on_card: small, with no words around the panel.
    """

    size: float = LETTERS
    told: Callable[[Moment], str] = lambda moment: moment.name
    loops: Sequence[int] = (1,)
    dot: float = 4.0
    far: Sequence[float] = (1.0,)
    on_card: bool = False


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

    def keep_free(self, places: Iterable[Place]) -> None:
        """Keep labels off the dots at these places, as off so much of a line."""
        turns = np.linspace(0.0, 2.0 * math.pi, 12, endpoint=False)
        ring = 2.5 * self.point * np.column_stack([np.cos(turns), np.sin(turns)])
        dots = [self.axes.transData.transform(place) + ring for place in places]
        self.lines = np.concatenate([self.lines, *dots])

    def take(self, candidates: Sequence[Bbox], more: Sequence[float] = ()) -> int:
        """The candidate that costs least, the first of equals; it is taken from then on.

        Args:
            candidates: where something may stand.
            more: what each of them costs beside what it covers.
        """
        costs = [self._cost(box) for box in candidates]
        costs = [
            cost + extra for cost, extra in zip(costs, more or [0.0] * len(costs), strict=True)
        ]
        best = costs.index(min(costs))
        self.taken.append(candidates[best])
        return best

    def write(
        self, text: str, place: Place, size: float, color: str, far: Sequence[float] = (1.0,)
    ) -> None:
        """Write a label beside a place, given in the panel's own units.

        Args:
            text: the label.
            place: what it belongs to.
            size: of its letters, points.
            color: of its letters.
            far: how many gaps it may be away; a thin line leads to one that is more than the first.
        """
        label = self.axes.annotate(
            text, place, (0.0, 0.0), textcoords="offset points", fontsize=size, color=color,
            ha="center", va="center",
        )  # fmt: skip
        label.set_in_layout(False)
        if len(far) > 1:  # where little is free, what guides the eye goes below it
            label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.4, "alpha": 0.75})
        box = label.get_window_extent()
        x, y = self.axes.transData.transform(place)
        ways = [(way, step) for step in range(len(far)) for way in (FAR_WAYS if step else WAYS)]
        away = [_beside(way, far[step] * GAP * self.point, box) for way, step in ways]
        boxes = [_around(x + e, y + n, box.width, box.height) for e, n in away]
        best = self.take(boxes, [FARTHER * step for _, step in ways])
        chosen = away[best]
        label.set_position((chosen[0] / self.point, chosen[1] / self.point))
        if ways[best][1]:
            self._lead((x, y), boxes[best])

    def _lead(self, place: Place, box: Bbox) -> None:
        """Draw a line from a place to the nearest point of its label; nothing else covers it."""
        near = np.clip(place, box.min, box.max)
        line = np.linspace(place, near, 30)
        self.lines = np.concatenate([self.lines, line])
        ends = self.axes.transData.inverted().transform([line[0], line[-1]])
        self.axes.plot(*ends.T, color=SOFT, linewidth=0.5, zorder=1, scalex=False, scaley=False)

    def _cost(self, box: Bbox) -> float:
        inside = (self.lines > box.min).all(axis=1) & (self.lines < box.max).all(axis=1)
        covered = sum(box.overlaps(other) for other in self.taken)
        out = not (self.frame.contains(*box.min) and self.frame.contains(*box.max))
        return float(inside.sum()) + ON_A_LABEL * covered + OUTSIDE * out


def _beside(way: float, gap: float, box: Bbox) -> Place:
    """How far off the middle of a box is whose edge, seen that way, is a gap away."""
    x, y = math.cos(way), math.sin(way)
    steepest = max(abs(x), abs(y))
    return x * gap + 0.5 * box.width * x / steepest, y * gap + 0.5 * box.height * y / steepest


def _around(x: float, y: float, width: float, height: float) -> Bbox:
    return Bbox.from_bounds(x - 0.5 * width, y - 0.5 * height, width, height)
