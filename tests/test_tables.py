"""Promises of a table: where a terminal is narrow, its rows are told in words, whole."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from rich.table import Table

from coach.tables import Whole

cells = st.text(st.sampled_from("abc1°"), min_size=1, max_size=30)


@given(st.lists(st.tuples(cells, cells, cells), min_size=1, max_size=4), st.integers(12, 90))
def test_every_cell_can_be_read_whatever_the_width(
    rows: list[tuple[str, str, str]], wide: int
) -> None:
    table = Table()
    for head in ("one", "two", "three"):
        table.add_column(head, no_wrap=True)
    for row in rows:
        table.add_row(*row)
    console = Console(width=wide, record=True, file=io.StringIO(), highlight=False, markup=False)
    console.print(Whole(table))
    lines = console.export_text().splitlines()
    assert max(map(len, lines)) <= wide
    joined = "".join("".join(lines).split())
    for row in rows:
        assert all(cell in joined for cell in row)
