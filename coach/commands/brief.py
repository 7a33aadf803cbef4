"""``coach brief``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from coach.brief import board, words
from coach.brief import short as glance
from coach.commands import options, printing
from coach.commands.saying import say
from coach.problems import Problem, ending, written
from coach.rehearsal.ready import fly
from coach.script.standards import Checkride


@click.command()
@click.argument("maneuver")
@options.the_airplane_and_day
@options.the_checkride
@click.option("--json", "as_json", is_flag=True, help="Print the brief for programs.")
@click.option("--table", type=Path, metavar="FILE.csv", help="Write the time history at 10 Hz.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
@click.option("--short", is_flag=True, help="Ten lines for a glance, with the model in the hand.")
@click.option(
    "--card", type=Path, metavar="FILE", help="A card to print, two on a sheet, as .pdf or .png."
)
def brief(
    maneuver: str,
    airplane: str,
    asked_at: Checkride | None,
    as_json: bool,
    table: Path | None,
    picture: Path | None,
    short: bool,
    card: Path | None,
    **given: Any,
) -> None:
    """What goes on the board: entry, checkpoints, standard, errors, cautions.

    Where a file is asked for, that is all; --short or --json is printed beside it.
    """
    if as_json and short:
        raise Problem("--json and --short are two ways to print the brief: leave one out.")
    flight = fly(maneuver, airplane, options.day(given))
    if table is not None:
        ending(table, ".csv")
        with written(table) as part:
            part.write_text(board.history_csv(flight), encoding="utf-8")
        say(f"Wrote {table}.", err=True)
    if picture is not None:
        from coach.drawing.brief import draw  # slow to import, and seldom wanted

        draw(flight, picture)
        say(f"Wrote {picture}.", err=True)
    if card is not None:
        from coach.drawing.card import draw as draw_card  # as slow

        draw_card(flight, card, asked_at)
        say(f"Wrote {card}.", err=True)
    if as_json:
        click.echo(json.dumps(board.board(flight, asked_at), indent=2))
    elif short:
        printing.console().print(glance.short(flight, asked_at))
    elif not (table or picture or card):
        printing.paged(words.page(flight, asked_at))
