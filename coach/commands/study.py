"""``coach debrief``, ``coach logbook`` and ``coach next``."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from coach.commands import kept, printing
from coach.problems import Problem, nearest
from coach.shelf import AIRPLANE

if TYPE_CHECKING:
    from coach.logbook.logbook import Logbook
    from coach.logbook.past import Line
    from coach.logbook.run import Run


@click.command()
@click.argument("number", type=int, required=False)
@click.option("--table", is_flag=True, help="Every checkpoint and every leg as well.")
@click.option("--json", "as_json", is_flag=True, help="Print it for programs.")
@click.option("--picture", type=Path, metavar="FILE", help="Draw it, as .png or .svg.")
@click.option("--report", type=Path, metavar="FILE", help="A page to hand over, .html or .pdf.")
def debrief(
    number: int | None, table: bool, as_json: bool, picture: Path | None, report: Path | None
) -> None:
    """Look at the last run again, or at run NUMBER."""
    from coach.debrief import legs, words
    from coach.debrief.debrief import debrief as judge

    with kept.logbook() as logbook:
        run = logbook.last() if number is None else logbook.run(number)
        if run is None:
            raise Problem("There is no run yet: start with coach rehearse lazy-eight.")
        judged = judge(run, logbook.earlier(run))
        # A program reads in the JSON that there are no checkpoints.
        if not judged.rows and (picture or report or not as_json):
            raise Problem(_nothing(run, logbook.runs()))
    if picture is not None:
        from coach.debrief.picture import draw

        draw(judged, picture)
        click.echo(f"Wrote {picture}.", err=True)
    if report is not None:
        from coach.debrief.report import report as write

        write(judged, report)
        click.echo(f"Wrote {report}.", err=True)
    if as_json:
        click.echo(json.dumps(judged.to_dict(), indent=2))
        return
    console = printing.console()
    if table:
        console.print(words.table(judged))
        if len({row.loop for row in judged.rows}) > 1:
            console.print(legs.table(judged))
    console.print(words.screen(judged))


def _nothing(run: Run, runs: Iterable[Run]) -> str:
    """Why there is nothing to debrief, and which run before it there is instead."""
    from coach.debrief.gauging import reached
    from coach.debrief.words import clock

    before = (one.id for one in runs if one.started < run.started and reached(one))
    instead = next((f"; before it there is coach debrief {number}" for number in before), "")
    return (
        f"Run {run.id}, {run.title}, was {run.ended} at {clock(run.reached_s / run.pace)}, before "
        f"its first checkpoint: there is nothing to debrief{instead}."
    )


@click.command()
@click.option("--student", metavar="NAME", help="One student.  [everybody]")
@click.option("--export", type=Path, metavar="FILE", help="Write every run, as .csv or .json.")
@click.option(
    "--import", "merge", type=Path, metavar="FILE", help="Take in an export or a logbook."
)
@click.option("--forget", metavar="NAME", help="Remove everything of one student; asks first.")
@click.option("--yes", is_flag=True, help="Let --forget remove it without asking.")
def logbook(
    student: str | None, export: Path | None, merge: Path | None, forget: str | None, yes: bool
) -> None:
    """Each maneuver's last run, best, trend, readiness and due day."""
    from coach.logbook import exchange

    shows = export is None and merge is None and forget is None
    if student is not None and not shows:
        raise Problem("--student chooses what is shown, and here nothing is shown: leave it out.")
    with kept.logbook() as book:
        if export is not None:
            click.echo(f"Wrote {export}: {_runs(exchange.export(book, export))}.", err=True)
        if merge is not None:
            found = exchange.merge(book, merge)
            click.echo(f"{merge}: {_runs(found.new)} new, {found.known} known.", err=True)
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


def _runs(count: int) -> str:
    return "1 run" if count == 1 else f"{count:,} runs"


def _print_past(book: Logbook, student: str | None) -> None:
    from rich.table import Table

    from coach.debrief.readiness import readiness
    from coach.debrief.trend import trend
    from coach.practice.judging import pasts
    from coach.practice.schedule import due

    today = date.today()
    found = pasts(book, student)
    if not found:
        raise Problem(_no_run(book, student))
    console = printing.console()
    for name in sorted({past.student for past in found}):
        table = Table(box=None, header_style="dim", pad_edge=False)
        # Where the terminal is narrow, a long title takes two lines, and no figure is cut.
        table.add_column(name or "maneuver")
        for column in ("runs", "last", "best", "trend", "readiness", "due"):
            table.add_column(column, no_wrap=True)
        theirs = [past for past in found if past.student == name]
        for past in sorted(theirs, key=lambda one: one.title):
            last, coming = past.recent[0], due(past, today)
            table.add_row(
                past.title,
                f"{past.runs:,}",
                f"{_on_time(last)} {_when(last.started.date(), today)}".strip(),
                _on_time(past.best),
                trend(past.recent, last.pace).spark,
                readiness(past.recent, today).verdict,
                _when(coming.due, today) if coming else "",
            )
        console.print(table)


def _no_run(book: Logbook, student: str | None) -> str:
    """Why there is nothing to show of a student, or of everybody for None."""
    known = [name for name in book.students() if name]
    if student:
        return f"There is no run of '{student}'{nearest(student, known)}"
    if known:
        return f"There is no run without a name; add --student for {' or '.join(known)}."
    return "There is no run yet: start with coach rehearse lazy-eight."


def _when(day: date, today: date) -> str:
    days = (day - today).days
    if days == 0:
        return "today"
    return f"in {days} d" if days > 0 else f"{-days} d ago"


def _on_time(line: Line | None) -> str:
    """How many checkpoints were on time, of how many."""
    score = line and line.score
    return f"{score.on_time}/{score.checkpoints}" if score and score.checkpoints else ""


@click.command("next")
@click.option("--checkride", metavar="DATE", help="Such as 2031-05-20: everything before then.")
@click.option(
    "--minutes",
    type=click.FloatRange(1, 600),
    default=20,
    show_default=True,
    metavar="N",
    help="For today.",
)
@click.option("--student", default="", metavar="NAME", help="Whose logbook.")
@click.option("--airplane", default=AIRPLANE, show_default=True, help="Which flies.")
def practice(checkride: str | None, minutes: float, student: str, airplane: str) -> None:
    """What to rehearse today: the due and the shaky, then the new.

    Before a checkride so much of what is new that all of it comes in, in the order of a syllabus.
    """
    from rich.table import Table

    from coach.debrief.readiness import readiness
    from coach.practice.judging import pasts
    from coach.practice.lengths import lengths_s
    from coach.practice.schedule import practice as choose

    today = date.today()
    last = None if checkride is None else _coming(checkride, today)
    with kept.logbook() as book:
        found = pasts(book, student)
        if not found and last is None:
            raise Problem(_no_run(book, student))
    shares = {past.maneuver: readiness(past.recent, today).share for past in found}
    chosen = choose(
        found,
        lengths_s(airplane, _flown_in(airplane), _tell_of_waiting),
        today=today,
        minutes=minutes,
        checkride=last,
        readiness={name: share for name, share in shares.items() if share is not None},
    )
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True, justify="right")
    for one in chosen.suggestions:
        table.add_row(one.maneuver, f"{one.length_s / 60:.1f} min", one.reason)
    if chosen.suggestions:
        printing.console().print(table)
    left = minutes - sum(one.length_s for one in chosen.suggestions) / 60
    if not chosen.suggestions:
        click.echo(f"Nothing is due today that fits into {minutes:g} minutes.")
    elif left >= min(one.length_s for one in chosen.suggestions) / 60:
        again = "what went worst" if found else "one of them"
        click.echo(f"That leaves {left:.0f} of {minutes:g} minutes: fly {again} again.")
    if chosen.note:
        click.echo(chosen.note)


def _flown_in(airplane: str) -> Callable[[str], float]:
    def length_s(maneuver: str) -> float:
        from coach.flight.day import Day
        from coach.rehearsal import fly

        return fly(maneuver, airplane, Day()).length_s

    return length_s


def _tell_of_waiting() -> None:
    click.echo("Flying every maneuver once, to know how long each takes ...", err=True)


def _coming(written: str, today: date) -> date:
    """The day of a checkride that is not past."""
    try:
        found = datetime.strptime(written, "%Y-%m-%d").date()
    except ValueError:
        raise Problem(
            f"--checkride: found '{written}', expected a date such as 2031-05-20."
        ) from None
    if found < today:
        raise Problem(f"--checkride: {found} is past; today is {today}.")
    return found
