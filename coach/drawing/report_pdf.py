"""The instructor's page as PDF: A4, or longer where a maneuver has very many checkpoints."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any, BinaryIO

from coach.debrief.debrief import Debrief
from coach.drawing.debrief import BELOW, PANELS, panels
from coach.drawing.figure import blank, save
from coach.drawing.palette import GREY, INK
from coach.drawing.plotting import Figure, Line2D, Rectangle
from coach.drawing.report_words import Page, page
from coach.words import CAUTION

WIDTH, HEIGHT, MARGIN = 8.27, 11.69, 0.6  # inches, as all lengths here
TEXT_WIDTH = WIDTH - 2 * MARGIN
SIZE, LINE = 8.5, 0.16
"""The letters' size in points and the height of their lines."""

LETTER = 0.07
"""The mean width of a letter of this size, measured generously, for bold letters too."""

NAMES = 1.25
"""The width of the column of names before texts and the table's rows."""

SCALE = 0.5
"""Room for the figures left of the picture."""

PICTURE, REMARKS = 3.6, 1.3
"""The least height of the picture, and that of the room for remarks."""


def write(judged: Debrief, target: BinaryIO) -> None:
    """Write the page; its letters can be searched and copied."""
    sheet = page(judged)
    table = _table(sheet)
    told = [
        (name, textwrap.wrap(words, _letters(TEXT_WIDTH - NAMES))) for name, words in sheet.said
    ]
    facts = textwrap.wrap(
        ";  ".join(f"{name}: {value}" for name, value in sheet.facts), _letters(TEXT_WIDTH)
    )
    caution = textwrap.wrap(CAUTION, _letters(TEXT_WIDTH))
    above = MARGIN + LINE * (3 + len(facts) + sum(high for high, _ in table))
    below = MARGIN + REMARKS + LINE * (2 + len(caution) + sum(len(lines) for _, lines in told))

    tall = max(HEIGHT, above + PICTURE + below)
    figure = blank(WIDTH, tall, layout=None)
    places = figure.add_gridspec(
        3,
        1,
        height_ratios=PANELS,
        hspace=0.15,
        left=(MARGIN + SCALE) / WIDTH,
        right=1.0 - MARGIN / WIDTH,
        top=1.0 - (above + LINE) / tall,
        bottom=(below + BELOW) / tall,
    )
    panels(places, judged)
    pen = _Pen(figure, tall)
    pen.write(MARGIN, [f"Debrief: {sheet.title}"], fontsize=14, fontweight="bold")
    pen.down(2)
    pen.write(MARGIN, facts)
    pen.down(len(facts) + 0.5)
    for row, (high, cells) in enumerate(table):
        pen.rule()
        for column, lines in enumerate(cells):
            pen.write(
                _left(sheet, column), lines, fontweight="normal" if row and column else "bold"
            )
        pen.down(high)
    pen.y = tall - below
    for name, lines in told:
        pen.write(MARGIN, [name], fontweight="bold")
        pen.write(MARGIN + NAMES, lines, fontweight="bold" if name == "next" else "normal")
        pen.down(len(lines))
    pen.down(0.5)
    pen.box(REMARKS)
    pen.write(MARGIN + 0.08, ["Instructor's remarks"], fontweight="bold", drop=0.05)
    pen.y += REMARKS
    pen.down(0.5)
    pen.write(MARGIN, caution)
    save(figure, target, "pdf", Title=f"Debrief: {sheet.title}")


class _Pen:
    """Writes down the page, from its upper edge."""

    def __init__(self, figure: Figure, tall: float) -> None:
        self.figure = figure
        self.tall = tall
        self.y = MARGIN

    def down(self, lines: float) -> None:
        self.y += LINE * lines

    def write(self, x: float, lines: Sequence[str], *, drop: float = 0.0, **look: Any) -> None:
        for place, line in enumerate(lines):
            y = 1.0 - (self.y + drop + LINE * place) / self.tall
            look = {"fontsize": SIZE, "color": INK, **look}
            self.figure.text(x / WIDTH, y, line, va="top", parse_math=False, **look)

    def rule(self) -> None:
        y = 1.0 - (self.y - 0.25 * LINE) / self.tall
        ends = [MARGIN / WIDTH, 1.0 - MARGIN / WIDTH]
        self.figure.add_artist(Line2D(ends, [y, y], color=GREY, linewidth=0.5))

    def box(self, high: float) -> None:
        corner = (MARGIN / WIDTH, 1.0 - (self.y + high) / self.tall)
        look: dict[str, Any] = {"fill": False, "edgecolor": GREY, "linewidth": 0.8}
        self.figure.add_artist(Rectangle(corner, TEXT_WIDTH / WIDTH, high / self.tall, **look))


def _table(sheet: Page) -> list[tuple[float, list[list[str]]]]:
    """Every row of the table: its height in lines, and the lines of its cells."""
    rows = [("at", sheet.loops), *sheet.checkpoints] if sheet.checkpoints else []
    found = []
    for name, cells in rows:
        wide = _letters(_column(sheet)) - 1
        lines = [textwrap.wrap(name, _letters(NAMES) - 3), *(textwrap.wrap(c, wide) for c in cells)]
        found.append((max(map(len, lines)) + 0.5, lines))
    return found


def _column(sheet: Page) -> float:
    return (TEXT_WIDTH - NAMES) / len(sheet.loops)


def _left(sheet: Page, column: int) -> float:
    return MARGIN + (NAMES + (column - 1) * _column(sheet) if column else 0.0)


def _letters(width: float) -> int:
    return int(width / LETTER)
