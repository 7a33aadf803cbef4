"""``coach new``, ``coach check``, ``coach schema`` and ``coach library``."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from typing import Literal

import click

from coach.commands import printing
from coach.problems import Problem
from coach.shelf import AIRPLANE


@click.command()
@click.argument("kind", type=click.Choice(["maneuver", "airplane"]))
@click.argument("file")
def new(kind: Literal["maneuver", "airplane"], file: str) -> None:
    """Begin a maneuver or an airplane of your own.

    FILE is a path that ends in .yaml, or a bare name, which goes into your own library.
    """
    from coach.rehearsal.check import begin

    click.echo(f"Wrote {begin(kind, file)}; next: coach check {shlex.quote(file)}", err=True)


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
    from coach.brief.handbook import sheet
    from coach.flight.airplane import Airplane
    from coach.rehearsal.check import check as read
    from coach.script.warmup import Warmup

    at_fault = False
    for file in files:
        try:
            script, remarks = read(file, airplane)
        except Problem as problem:
            at_fault = True
            click.echo(problem)
            continue
        if isinstance(script, Airplane):
            click.echo(f"{file}: an airplane, fit to fly\n")
            printing.console().print(sheet(script))
        else:
            if isinstance(script, Warmup):
                found = "warm-up, fit to fly"
            else:
                found = (
                    "maneuver, can be flown; look at this:" if remarks else "maneuver, fit to fly"
                )
            click.echo(f"{file}: a {found}")
            for remark in remarks:
                click.echo(f"  {remark}")
    ctx.exit(1 if at_fault else 0)


@click.command()
@click.argument("kind", type=click.Choice(["maneuver", "airplane"]))
def schema(kind: Literal["maneuver", "airplane"]) -> None:
    """Print the JSON Schema of a script.

    With it an editor completes and checks a script as you type.
    """
    from coach.rehearsal.check import KINDS
    from coach.script.schema import schema as describe

    click.echo(json.dumps(describe(KINDS[kind]), indent=2))


@click.command("library")
def shelves() -> None:
    """Maneuvers, airplanes and warm-ups, and where your own go."""
    from coach.flight.airplane import load
    from coach.script import catalog, warmup

    titles: dict[str, Callable[[str], str]] = {
        "maneuvers": lambda name: catalog.maneuver(name).title,
        "airplanes": lambda name: load(name).title,
        "warmups": lambda name: warmup.load(name).title,
    }
    for kind, title in titles.items():
        click.echo(f"{kind}:")
        for name in catalog.names(kind):
            try:
                shown = title(name)
            except Problem as problem:  # one at fault must not hide the others
                shown = f"cannot be used: {problem}"
            click.echo(f"  {name:<28}{shown}")
        click.echo(f"  (your own: {catalog.folders(kind)[0]})")
