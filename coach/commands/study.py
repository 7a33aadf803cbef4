"""``coach debrief``."""

from __future__ import annotations

import json
from pathlib import Path

import click

from coach.problems import Problem


@click.command()
@click.argument("number", type=int, required=False)
@click.option("--json", "as_json", is_flag=True, help="Print it for programs.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
def debrief(number: int | None, as_json: bool, picture: Path | None) -> None:
    """Look at the last run again, or at run NUMBER."""
    from rich.console import Console

    from coach.debrief.debrief import debrief as judge
    from coach.debrief.words import screen
    from coach.logbook.logbook import Logbook

    with Logbook() as logbook:
        if logbook.note:
            click.echo(logbook.note, err=True)
        run = logbook.last() if number is None else logbook.run(number)
        if run is None:
            raise Problem("There is no run yet: start with coach rehearse lazy-eight.")
        judged = judge(run, logbook.earlier(run))
        if picture is not None:
            from coach.debrief.picture import draw

            draw(run, picture)
            click.echo(f"Wrote {picture}.", err=True)
        if as_json:
            click.echo(json.dumps(judged.to_dict(), indent=2))
        else:
            Console(highlight=False).print(screen(judged))
