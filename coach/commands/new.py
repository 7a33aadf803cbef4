"""``coach new``."""

from __future__ import annotations

import shlex
from typing import get_args

import click

from coach.commands.saying import say
from coach.script.template import Kind, begin


@click.command()
@click.argument("kind", type=click.Choice(get_args(Kind)))
@click.argument("file")
def new(kind: Kind, file: str) -> None:
    """Begin a maneuver or an airplane of your own.

    FILE is a path that ends in .yaml, or a bare name, which goes into your own library.
    """
    say(f"Wrote {begin(kind, file)}; next: coach check {shlex.quote(file)}", err=True)
