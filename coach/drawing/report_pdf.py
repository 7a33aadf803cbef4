"""The instructor's page as PDF: A4, or longer where a maneuver has very many checkpoints."""

from __future__ import annotations

import textwrap
from typing import BinaryIO

from coach.debrief.debrief import Debrief
from coach.drawing.debrief import BELOW, panels
from coach.drawing.figure import blank, save
from coach.drawing.pen import Pen, letters
from coach.drawing.report_words import Page, page
from coach.words import CAUTION

WIDTH, HEIGHT, MARGIN = 8.27, 11.69, 0.6  # inches, as all lengths here
TEXT_WIDTH = WIDTH - 2 * MARGIN
SIZE, LINE = 8.5, 0.16
"""The letters' size in points and the height of their lines."""

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
    panels(
        figure,
        judged,
        hspace=0.15,
        left=(MARGIN + SCALE) / WIDTH,
        right=1.0 - MARGIN / WIDTH,
        top=1.0 - (above + LINE) / tall,
        bottom=(below + BELOW) / tall,
    )
    pen = Pen(figure, WIDTH, tall, MARGIN, SIZE, LINE, y=MARGIN)
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
    return letters(width, SIZE)
