"""``coach next``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

import click
from rich.table import Table

from coach.commands import logbooks, options, printing
from coach.commands.saying import say
from coach.logbook.logbook import Logbook
from coach.practice.judging import pasts
from coach.practice.schedule import Suggestion
from coach.problems import Problem
from coach.rehearsal.today import MINUTES, today
from coach.script.standards import Checkride
from coach.shelf import AIRPLANE
from coach.tables import Whole


@click.command("next")
@click.option("--checkride", metavar="DATE", help="Such as 2031-05-20: everything before then.")
@options.the_checkride
@click.option(
    "--minutes",
    type=click.FloatRange(1, 600),
    default=MINUTES,
    show_default=True,
    metavar="N",
    help="For today.",
)
@click.option(
    "--student", default="", callback=logbooks.anybody, metavar="NAME", help="Whose logbook."
)
@click.option("--airplane", default=AIRPLANE, show_default=True, help="Which flies.")
def practice(
    checkride: str | None,
    asked_at: Checkride | None,
    minutes: float,
    student: str,
    airplane: str,
) -> None:
    """What to rehearse today: the due and the shaky, then the new.

    Before a checkride so much of what is new that all of it comes in, in the order of a syllabus,
    going on from what you flew latest; in its last 3 days first what was flown and is shaky. Where
    time is left, more that is new; then what to fly again, and what its last debrief said. --for
    leaves out what is asked at no such checkride; where it was never said, what is new is for the
    one that alone asks for what you fly. A maneuver of your own counts once you have flown it.
    """
    day = date.today()
    last = None if checkride is None else _coming(checkride, day)
    with logbooks.opened() as book:
        found = pasts(book, student)
        if not found and last is None and asked_at is None:
            raise Problem(logbooks.no_run(book, student))
        chosen = today(
            found,
            day,
            airplane=airplane,
            asked_at=asked_at,
            minutes=minutes,
            checkride=last,
            waiting=_tell_of_waiting,
        )
        again = [_with_advice(one, book) for one in chosen.again]
    console = printing.console()
    if chosen.suggestions:
        console.print(_table(chosen.suggestions))
    else:
        say(f"Nothing is due today that fits into {minutes:g} minutes.")
    left = minutes - sum(one.length_s for one in chosen.suggestions) / 60
    if chosen.more:
        say(f"That leaves {left:.0f} of {minutes:g} minutes. More that is new:")
        console.print(_table(chosen.more))
        left -= sum(one.length_s for one in chosen.more) / 60
    if again:
        say(f"That leaves {left:.0f} of {minutes:g} minutes. Fly again, the shakiest first:")
        console.print(_table(again))
    if chosen.note:
        say(chosen.note)


def _table(suggestions: Iterable[Suggestion]) -> Whole:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True, justify="right")
    for one in suggestions:
        table.add_row(one.maneuver, f"{one.length_s / 60:.1f} min", one.reason)
    return Whole(table)


def _with_advice(one: Suggestion, book: Logbook) -> Suggestion:
    """The same with what the debrief of its last run said to do next."""
    from coach.debrief.debrief import debrief  # slow to import, and wanted where time is left

    assert one.due is not None
    run = book.run(one.due.line.id)
    return replace(one, reason=f"{one.reason} {debrief(run, book.earlier(run)).next}")


def _tell_of_waiting() -> None:
    say("Flying every maneuver once, to know how long each takes ...", err=True)


def _coming(written: str, today: date) -> date:
    """The day of a checkride that is not past."""
    try:
        found = datetime.strptime(written, "%Y-%m-%d").date()
    except ValueError:
        raise Problem(
            f"found '{written}', expected a date such as 2031-05-20.", "checkride"
        ) from None
    if found < today:
        raise Problem(f"{found} is past; today is {today}.", "checkride")
    return found
