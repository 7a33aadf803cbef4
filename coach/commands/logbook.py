"""``coach logbook``."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click
from rich.table import Table

from coach.commands import logbooks, printing
from coach.commands.saying import say
from coach.debrief.governing import why_not
from coach.debrief.readiness import readiness
from coach.debrief.trend import trend
from coach.logbook import exchange
from coach.logbook.logbook import Logbook
from coach.logbook.run import LoggedRun
from coach.practice.judging import pasts
from coach.practice.schedule import due
from coach.problems import Problem
from coach.tables import Whole
from coach.words import counted

_NOT_COUNTED = (
    "What was stopped early, without taps or at another pace than full is kept, and does not count "
    "for best, trend, readiness and due."
)


@click.command()
@click.option(
    "--student", callback=logbooks.anybody, metavar="NAME", help="One student.  [everybody]"
)
@click.option("--export", type=Path, metavar="FILE", help="Write the runs, as .csv or .json.")
@click.option(
    "--import", "merge", type=Path, metavar="FILE", help="Take in an export or a logbook."
)
@click.option(
    "--forget",
    callback=logbooks.anybody,
    metavar="NAME",
    help="Remove everything of one student; asks first.",
)
@click.option("--yes", is_flag=True, help="Let --forget remove it without asking.")
def logbook(
    student: str | None, export: Path | None, merge: Path | None, forget: str | None, yes: bool
) -> None:
    """Each maneuver's last run and its number, best, trend, readiness and due day."""
    shows = export is None and merge is None and forget is None
    if student is not None and (merge is not None or forget is not None):
        raise Problem("--student chooses what is shown or exported: leave it out here.")
    with logbooks.opened() as book:
        if export is not None:
            if student is not None and book.last(student) is None:
                raise Problem(logbooks.no_run(book, student))
            count = exchange.export(book, export, student)
            say(f"Wrote {export}: {counted(count, 'run')}.", err=True)
        if merge is not None:
            found = exchange.merge(book, merge)
            say(f"{merge}: {counted(found.new, 'run')} new, {found.known} known.", err=True)
        if forget is not None:
            _forget(book, forget, yes)
        if shows:
            _print_past(book, student)


def _forget(book: Logbook, student: str, sure: bool) -> None:
    """Remove everything of a student, if that is what is wanted."""
    from coach.commands import forgetting  # slow to import, and seldom wanted

    what = forgetting.held(book, student)
    if not sure and not sys.stdin.isatty():
        raise Problem(f"--forget would remove {what} for good: add --yes if that is meant.")
    if sure or click.confirm(f"Remove {what} for good?", err=True):
        forgetting.forget(book, student)
        say(f"Removed: {what}.", err=True)
    else:
        say("Nothing was removed.", err=True)


def _print_past(book: Logbook, student: str | None) -> None:
    today = date.today()
    found = pasts(book, student)
    if not found:
        raise Problem(logbooks.no_run(book, student))
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
                f"{_on_time(last)} {_when(last.started.date(), today)}{_aside(last)}".strip(),
                _on_time(past.best),
                trend(past.recent).spark,
                readiness(past.recent, today).verdict.removesuffix(" runs"),
                _when(coming.due, today) if coming else "",
            )
        console.print(Whole(table))
    if any(why_not(past.recent[0]) for past in found):
        console.print(_NOT_COUNTED, highlight=False)


def _when(day: date, today: date) -> str:
    days = (day - today).days
    if days == 0:
        return "today"
    return f"in {days} d" if days > 0 else f"{-days} d ago"


def _aside(line: LoggedRun) -> str:
    """Where a run was flown, and why it does not count, each on a line of its own."""
    told = (line.room and f"in room {line.room}", why_not(line))
    return "".join(f"\n{words}" for words in told if words)


def _on_time(line: LoggedRun | None) -> str:
    """How many checkpoints were on time, of how many."""
    score = line and line.score
    return f"{score.on_time}/{score.checkpoints}" if score and score.checkpoints else ""
