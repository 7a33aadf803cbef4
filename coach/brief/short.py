"""The brief for a glance, with the model in the hand: ten lines of a terminal, or little more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console, ConsoleOptions, Group, JustifyMethod, RenderableType
from rich.table import Table
from rich.text import Text

from coach.brief.board import called
from coach.brief.loops import Alike, alike
from coach.brief.warnings import warnings
from coach.brief.words import bank, entry_row, handbook_row, nearest_stall, pitch
from coach.flight.flight import Flight
from coach.script.standards import Checkride, asked_at, in_figures
from coach.tables import Whole
from coach.words import FIRST, listed, titled


def short(flight: Flight, checkride: Checkride | None = None) -> RenderableType:
    """Entry, checkpoints, the nearest stall, the limits in figures and the caution."""
    groups = alike(flight)
    parts: list[RenderableType] = [
        Text(titled(flight.maneuver.title, called(flight.airplane)), style="bold"),
        *(Text(f"WARNING  {line}", style="bold") for line in warnings(flight)),
        _rows([("entry", entry_row(flight)), ("handbook", handbook_row(flight))]),
    ]
    for group in groups:
        # Which loops they are stands in the head of their table: a line of its own is dear here.
        which = f"{listed(group.sides)} {listed([str(one) for one in group.loops])}"
        parts.append(_Checkpoints(group, which if len(groups) > 1 else "at"))
    limits = in_figures(asked_at(flight.maneuver.standard, checkride))
    told = " · ".join(f"{whose}: {'; '.join(those)}" for whose, those in limits)
    below = [("stall", f"nearest at {nearest_stall(flight)}"), ("limits", told)]
    return Group(*parts, _rows(below), Text(FIRST))


def _rows(told: Sequence[tuple[str, str]]) -> Table:
    """Names with the words that there are, in line with the table of checkpoints."""
    rows = Table.grid(padding=(0, 2, 0, 0))
    rows.add_column(style="bold", min_width=len("attitude"))
    for name, words in told:
        if words:
            rows.add_row(name, words)
    return rows


class _Checkpoints:
    """A column for each checkpoint, as time goes on; without room for that a row, or its words."""

    def __init__(self, group: Alike, head: str) -> None:
        self.rows = [(head, "attitude", "kt", "feet")] + [
            (
                moment.name,
                f"{pitch(moment)}, {bank(moment)}",
                f"{moment.ias_kt:.0f}",
                f"{round(moment.altitude_ft):,}",
            )
            for moment in group.moments
        ]

    def __rich_console__(
        self, console: Console, options: ConsoleOptions
    ) -> Iterator[RenderableType]:
        """The first table that has room."""
        across = list(zip(*self.rows, strict=True))
        for table in (_table(across), _table(across, tight=True)):
            if table.__rich_measure__(console, options.update_width(1000)).maximum <= (
                options.max_width
            ):
                yield table
                return
        heads, *rows = self.rows
        down = Table(box=None, header_style="bold", padding=(0, 2, 0, 0), pad_edge=False)
        for number, head in enumerate(heads):
            justify: JustifyMethod = "right" if number else "left"
            down.add_column(head, justify=justify, no_wrap=True, style="" if number else "bold")
        for row in rows:
            down.add_row(*row)
        yield Whole(down)


def _table(rows: Sequence[Sequence[str]], *, tight: bool = False) -> Table:
    """A table whose first row and column say what stands there.

    Args:
        rows: its cells.
        tight: whether the first row may take several lines.
    """
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), pad_edge=False)
    for number, cells in enumerate(zip(*rows, strict=True)):
        words = [*cells[0].split(), *cells[1:]] if tight else cells
        table.add_column(justify="right" if number else "left", width=max(map(len, words)))
    for number, row in enumerate(rows):
        looks = ("" if number and place else "bold" for place in range(len(row)))
        table.add_row(*(Text(cell, look) for cell, look in zip(row, looks, strict=True)))
    return table
