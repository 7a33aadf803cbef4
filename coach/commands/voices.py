"""``coach voices``."""

from __future__ import annotations

import click
from rich.table import Table

from coach.commands import printing
from coach.sound.voices import voices as found
from coach.tables import Whole


@click.command()
@click.option("--all", "every", is_flag=True, help="Those of other languages too.")
def voices(every: bool) -> None:
    """The voices; coach settings voice=NAME chooses one."""
    table = Table(box=None, header_style="dim")
    for column in ("voice", "engine", "language"):
        table.add_column(column, no_wrap=True)
    table.add_column("licence")
    for voice in found():
        if not (every or voice.english):
            continue
        table.add_row(
            f"{voice.name}{' (usual)' if voice.usual else ''}",
            voice.engine,
            voice.language,
            voice.licence,
        )
    printing.console().print(Whole(table))
