"""``coach debrief`` and ``coach logbook``: what was rehearsed so far."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from coach.commands import kept, printing
from coach.problems import Problem
from coach.words import clock, counted

if TYPE_CHECKING:
    from coach.logbook.logbook import Logbook
    from coach.logbook.run import LoggedRun, Run


@click.command()
@click.argument("number", type=int, required=False)
@click.option("--student", metavar="NAME", help="That student's last run.  [anybody's]")
@click.option("--table", is_flag=True, help="Every checkpoint and every leg as well.")
@click.option("--json", "as_json", is_flag=True, help="Print it for programs.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
@click.option("--report", type=Path, metavar="FILE", help="A page to hand over, .html or .pdf.")
def debrief(
    number: int | None,
    student: str | None,
    table: bool,
    as_json: bool,
    picture: Path | None,
    report: Path | None,
) -> None:
    """Look at the last run again, or at run NUMBER, as coach logbook numbers them."""
    from coach.debrief import legs, words
    from coach.debrief.debrief import debrief as judge

    if number is not None and student is not None:
        raise Problem("A run's number says whose it is: leave --student out.")
    with kept.logbook() as logbook:
        run = logbook.last(student) if number is None else logbook.run(number)
        if run is None:
            raise Problem(kept.no_run(logbook, student))
        judged = judge(run, logbook.earlier(run))
        # A program reads in the JSON that there are no checkpoints.
        if not judged.verdicts and (picture or report or not as_json):
            theirs = (one for one in logbook.runs() if student in (None, one.student))
            raise Problem(_nothing(run, theirs))
    if picture is not None:
        from coach.drawing.debrief import draw

        draw(judged, picture)
        click.echo(f"Wrote {picture}.", err=True)
    if report is not None:
        from coach.drawing.report import report as write

        write(judged, report)
        click.echo(f"Wrote {report}.", err=True)
    if as_json:
        click.echo(json.dumps(judged.to_dict(), indent=2))
        return
    console = printing.console()
    if table:
        console.print(words.table(judged))
        if len({row.loop for row in judged.verdicts}) > 1:
            console.print(legs.table(judged))
    console.print(words.screen(judged))


def _nothing(run: Run, runs: Iterable[Run]) -> str:
    """Why there is nothing to debrief, and which run before it there is instead."""
    from coach.debrief.gauging import reached

    before = (one.id for one in runs if one.started < run.started and reached(one))
    instead = next((f"; before it there is coach debrief {number}" for number in before), "")
    return (
        f"Run {run.id}, {run.title}, was {run.ended} at "
        f"{clock(run.reached_s / run.pace, tenths=True)}, before its first checkpoint: there is "
        f"nothing to debrief{instead}."
    )


@click.command()
@click.option("--student", metavar="NAME", help="One student.  [everybody]")
@click.option("--export", type=Path, metavar="FILE", help="Write the runs, as .csv or .json.")
@click.option(
    "--import", "merge", type=Path, metavar="FILE", help="Take in an export or a logbook."
)
@click.option("--forget", metavar="NAME", help="Remove everything of one student; asks first.")
@click.option("--yes", is_flag=True, help="Let --forget remove it without asking.")
def logbook(
    student: str | None, export: Path | None, merge: Path | None, forget: str | None, yes: bool
) -> None:
    """Each maneuver's last run and its number, best, trend, readiness and due day."""
    from coach.logbook import exchange

    shows = export is None and merge is None and forget is None
    if student is not None and (merge is not None or forget is not None):
        raise Problem("--student chooses what is shown or exported: leave it out here.")
    with kept.logbook() as book:
        if export is not None:
            if student is not None and book.last(student) is None:
                raise Problem(kept.no_run(book, student))
            count = exchange.export(book, export, student)
            click.echo(f"Wrote {export}: {counted(count, 'run')}.", err=True)
        if merge is not None:
            found = exchange.merge(book, merge)
            click.echo(f"{merge}: {counted(found.new, 'run')} new, {found.known} known.", err=True)
        if forget is not None:
            _forget(book, forget, yes)
        if shows:
            _print_past(book, student)


def _forget(book: Logbook, student: str, sure: bool) -> None:
    """Remove everything of a student, if that is what is wanted."""
    what = kept.held(book, student)
    if not sure and not sys.stdin.isatty():
        raise Problem(f"--forget would remove {what} for good: add --yes if that is meant.")
    if sure or click.confirm(f"Remove {what} for good?", err=True):
        kept.forget(book, student)
        click.echo(f"Removed: {what}.", err=True)
    else:
        click.echo("Nothing was removed.", err=True)


def _print_past(book: Logbook, student: str | None) -> None:
    from rich.table import Table

    from coach.debrief.readiness import readiness
    from coach.debrief.trend import trend
    from coach.practice.judging import pasts
    from coach.practice.schedule import due

    today = date.today()
    found = pasts(book, student)
    if not found:
        raise Problem(kept.no_run(book, student))
    console = printing.console()
    for name in sorted({past.student for past in found}):
        table = Table(box=None, header_style="dim", pad_edge=False)
        # Where the terminal is narrow, a long title takes two lines, and no figure is cut.
        table.add_column(name or "maneuver")
        for column in ("runs", "run", "last", "best", "trend", "readiness", "due"):
            table.add_column(column, no_wrap=True)
        theirs = [past for past in found if past.student == name]
        for past in sorted(theirs, key=lambda one: one.title):
            last, coming = past.recent[0], due(past, today)
            table.add_row(
                past.title,
                f"{past.runs:,}",
                f"{last.id}",
                f"{_on_time(last)} {_when(last.started.date(), today)}".strip(),
                _on_time(past.best),
                trend(past.recent, last.pace).spark,
                readiness(past.recent, today).verdict.removesuffix(" runs"),
                _when(coming.due, today) if coming else "",
            )
        console.print(table)


def _when(day: date, today: date) -> str:
    days = (day - today).days
    if days == 0:
        return "today"
    return f"in {days} d" if days > 0 else f"{-days} d ago"


def _on_time(line: LoggedRun | None) -> str:
    """How many checkpoints were on time, of how many."""
    score = line and line.score
    return f"{score.on_time}/{score.checkpoints}" if score and score.checkpoints else ""
