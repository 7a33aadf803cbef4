"""Tables of which nothing is lost where a terminal is narrow."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, ConsoleOptions, RenderableType
from rich.table import Table
from rich.text import Text


class Whole:
    """A table as it is where there is room for its cells, and else row by row in words.

    Then a cell stands behind the head of its column, an empty one is left out, and a row goes on
    below itself, set in.
    """

    def __init__(self, table: Table) -> None:
        """Take a table whose heads and cells are texts; `no_wrap` says which keep on one line."""
        self.table = table

    def __rich_console__(
        self, console: Console, options: ConsoleOptions
    ) -> Iterator[RenderableType]:
        """The table, or its rows."""
        for column in self.table.columns:
            if column.no_wrap and column.width is None:
                # What is not to be wrapped would be cut off: so wide it must be.
                wide = (console.measure(cell).maximum for cell in column.cells)
                column.min_width = max(wide, default=0)
        if self.table.__rich_measure__(console, options).minimum <= options.max_width:
            yield self.table
            return
        heads = [_plain(column.header) for column in self.table.columns]
        cells = (column.cells for column in self.table.columns)
        for row in zip(*cells, strict=True):
            told = zip(heads, map(_plain, row), strict=True)
            words = [f"{head} {cell}".strip() for head, cell in told if cell]
            yield from _set_in(words, console, options)


def _plain(cell: RenderableType) -> str:
    """A cell on one line that is not torn apart."""
    return " ".join(str(cell).split())


def _set_in(
    words: list[str], console: Console, options: ConsoleOptions
) -> Iterator[RenderableType]:
    """A row in words: what belongs together stays on a line where that has room for it."""
    room = options.max_width
    line = Text(style="bold")
    lines = [line]
    for place, word in enumerate(words):
        pieces = [Text(word)] if len(word) < room - 2 else list(Text(word).wrap(console, room - 2))
        for piece in pieces:
            if place and line.cell_len + 2 + piece.cell_len > room:
                line = Text("  ")
                lines.append(line)
            elif place:
                line.append("  ")
            line.append_text(piece)
    yield from lines
