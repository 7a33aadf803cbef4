"""``coach check``."""

from __future__ import annotations

import click

from coach.brief.handbook import sheet
from coach.commands import printing
from coach.commands.group import seen, told
from coach.commands.saying import say
from coach.flight.airplane import Airplane
from coach.problems import Problem
from coach.rehearsal.check import check as read
from coach.script.warmup import Warmup
from coach.shelf import AIRPLANE


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "--airplane",
    default=AIRPLANE,
    show_default=True,
    metavar="NAME",
    help="Which flies what is flown.",
)
@click.pass_context
def check(ctx: click.Context, files: tuple[str, ...], airplane: str) -> None:
    """Check scripts, and show what an airplane's numbers lead to."""
    at_fault = False
    for file in files:
        try:
            script, remarks = read(file, airplane)
        except Problem as problem:
            at_fault = True
            say(told(problem, ctx.command))
            continue
        if isinstance(script, Airplane):
            found = "can be flown; look at this:" if remarks else "fit to fly"
            say(f"{seen(file)}: an airplane, {found}")
            for remark in remarks:
                say(f"  {seen(remark)}")
            say()
            printing.console().print(sheet(script))
        else:
            if isinstance(script, Warmup):
                found = "warm-up, fit to fly"
            else:
                found = (
                    "maneuver, can be flown; look at this:" if remarks else "maneuver, fit to fly"
                )
            say(f"{seen(file)}: a {found}")
            for remark in remarks:
                say(f"  {seen(remark)}")
    ctx.exit(1 if at_fault else 0)
