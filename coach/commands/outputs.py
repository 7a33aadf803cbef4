"""``coach outputs``."""

from __future__ import annotations

import click
from rich.table import Table

from coach.commands import printing
from coach.sound.outputs import outputs as found
from coach.tables import Whole


@click.command()
def outputs() -> None:
    """The sound devices; coach settings output=NAME chooses one."""
    table = Table("output", "through", "delay", box=None, header_style="dim")
    for output in found():
        delay = "" if output.latency_s is None else f"{1000 * output.latency_s:.0f} ms"
        table.add_row(f"{output.name}{' (usual)' if output.usual else ''}", output.backend, delay)
    printing.console().print(Whole(table))
