"""``coach schema``."""

from __future__ import annotations

import json

import click

from coach.rehearsal.check import KINDS
from coach.script.schema import schema as describe
from coach.script.template import Kind


@click.command()
@click.argument("kind", type=click.Choice(list(KINDS)))
def schema(kind: Kind) -> None:
    """Print the JSON Schema of a script.

    With it an editor completes and checks a script as you type.
    """
    click.echo(json.dumps(describe(KINDS[kind]), indent=2))
