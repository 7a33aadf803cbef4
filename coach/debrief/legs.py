"""The timing leg by leg, each leg named by the checkpoint it leads to, all loops together."""

from __future__ import annotations

from rich import box
from rich.console import RenderableType
from rich.table import Table

from coach.debrief.debrief import Debrief
from coach.debrief.words import signed
from coach.tables import Whole


def table(debrief: Debrief) -> RenderableType:
    """How many of each leg's checkpoints were tapped, and the errors there.

    Constant, variable and absolute error are those of `coach.taps.timing`, in own seconds.
    """
    columns = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    columns.add_column("leg to", justify="right", max_width=24)
    for name in ("tapped", "constant error", "variable", "absolute"):
        columns.add_column(name, justify="right", no_wrap=True)
    for name, timing in debrief.legs.items():
        tapped = len(timing.pairs)
        columns.add_row(
            name,
            f"{tapped} of {tapped + len(timing.missed)}",
            signed(timing.constant_error_s, " s", decimals=2),
            _seconds(timing.variable_error_s),
            _seconds(timing.absolute_error_s),
        )
    return Whole(columns)


def _seconds(value: float | None) -> str:
    return "" if value is None else f"{value:.2f} s"
