"""``coach debrief``."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

import click

from coach.commands import logbooks, options, printing
from coach.commands.saying import say
from coach.debrief import legs, loops, words
from coach.debrief.debrief import debrief as judge
from coach.debrief.gauging import reached
from coach.drawing.debrief import draw
from coach.drawing.report import report as write
from coach.logbook.run import Run
from coach.problems import Problem
from coach.script.catalog import standards
from coach.script.standards import Checkride
from coach.words import clock


@click.command()
@click.argument("number", type=int, required=False)
@click.option(
    "--student",
    callback=logbooks.anybody,
    metavar="NAME",
    help="That student's last run.  [anybody's]",
)
@options.the_checkride
@click.option("--table", is_flag=True, help="Every checkpoint and every leg as well.")
@click.option("--json", "as_json", is_flag=True, help="Print it for programs.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
@click.option("--report", type=Path, metavar="FILE", help="A page to hand over, .html or .pdf.")
def debrief(
    number: int | None,
    student: str | None,
    asked_at: Checkride | None,
    table: bool,
    as_json: bool,
    picture: Path | None,
    report: Path | None,
) -> None:
    """Look at the last run again, or at run NUMBER, as coach logbook numbers them."""
    if number is not None and student is not None:
        raise Problem("A run's number says whose it is: leave --student out.")
    with logbooks.opened() as logbook:
        run = logbook.last(student) if number is None else logbook.run(number)
        if run is None:
            raise Problem(logbooks.no_run(logbook, student))
        limits = standards(run.maneuver, asked_at)
        judged = judge(run, logbook.earlier(run), standards=limits, checkride=asked_at)
        # A program reads in the JSON that there are no checkpoints.
        if not judged.verdicts and (picture or report or not as_json):
            theirs = (one for one in logbook.runs() if student in (None, one.student))
            raise Problem(_nothing(run, theirs))
    if picture is not None:
        draw(judged, picture)
        say(f"Wrote {picture}.", err=True)
    if report is not None:
        write(judged, report)
        say(f"Wrote {report}.", err=True)
    if as_json:
        click.echo(json.dumps(judged.to_dict(), indent=2))
        return
    console = printing.console()
    if table:
        console.print(words.table(judged))
        if len({row.loop for row in judged.verdicts}) > 1 and judged.summary:
            console.print(legs.table(judged))
        if judged.hand:
            console.print(loops.table(judged.hand))
    console.print(words.screen(judged))


def _nothing(run: Run, runs: Iterable[Run]) -> str:
    """Why there is nothing to debrief, and which run before it there is instead."""
    before = (one.id for one in runs if one.started < run.started and reached(one))
    instead = next((f"; before it there is coach debrief {number}" for number in before), "")
    return (
        f"Run {run.id}, {run.title}, was {run.ended} at "
        f"{clock(run.reached_s / run.pace, tenths=True)}, before its first checkpoint: there is "
        f"nothing to debrief{instead}."
    )
