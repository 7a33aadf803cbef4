"""Writes down a page, line by line from its upper edge."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coach.drawing.palette import GREY, INK
from coach.drawing.plotting import Figure, Line2D, Rectangle

BOLD, USUAL = 0.00824, 0.0076
"""The mean width of a letter in inches for each point of its size, measured generously."""


@dataclass
class Pen:
    """Where a page is being written; its lengths are inches.

    Attributes:
        figure: the page.
        wide: its width.
        tall: its height.
        margin: at its edges.
        size: of the letters, points.
        line: the height of their lines.
        y: how far down the pen is.
    """

    figure: Figure
    wide: float
    tall: float
    margin: float
    size: float
    line: float
    y: float

    def down(self, lines: float) -> None:
        """Go down by so many lines."""
        self.y += self.line * lines

    def write(self, x: float, lines: Sequence[str], *, drop: float = 0.0, **look: Any) -> None:
        """Write lines one below another, and stay where the first one is."""
        for place, line in enumerate(lines):
            y = 1.0 - (self.y + drop + self.line * place) / self.tall
            look = {"fontsize": self.size, "color": INK, **look}
            self.figure.text(x / self.wide, y, line, va="top", parse_math=False, **look)

    def rule(self) -> None:
        """Draw a line from margin to margin, above what is written next."""
        y = 1.0 - (self.y - 0.25 * self.line) / self.tall
        ends = [self.margin / self.wide, 1.0 - self.margin / self.wide]
        self.figure.add_artist(Line2D(ends, [y, y], color=GREY, linewidth=0.5))

    def box(self, high: float) -> None:
        """Draw a frame so high, from margin to margin."""
        corner = (self.margin / self.wide, 1.0 - (self.y + high) / self.tall)
        look: dict[str, Any] = {"fill": False, "edgecolor": GREY, "linewidth": 0.8}
        across = 1.0 - 2.0 * self.margin / self.wide
        self.figure.add_artist(Rectangle(corner, across, high / self.tall, **look))


def letters(width: float, size: float, letter: float = BOLD) -> int:
    """How many letters of this size, in points, find room in this width, in inches."""
    return int(width / (letter * size))


def wrapped(words: str, width: float, size: float, letter: float = BOLD) -> list[str]:
    """Words in lines that find room in this width."""
    return textwrap.wrap(words, letters(width, size, letter))
