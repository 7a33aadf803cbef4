"""The command ``coach``: it parses, calls and prints.

What takes long to import is imported where it is used, so that Ctrl-C is answered from the start.
"""

from __future__ import annotations

import errno
import io
import sys
from typing import Any

import click

from coach import __version__
from coach.commands import coming, fly, hearing, machine, options, page, scripts, study, warmup
from coach.problems import Problem

_GONE = (errno.EIO, errno.EPIPE)
"""What a write meets when the terminal was closed or the pipe was cut: nobody is there to tell."""


class _Sentences(click.Group):
    """A group of commands whose problems are one sentence, never a traceback."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run the program; a sign that the output cannot take becomes a question mark."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")
        try:
            return super().main(*args, **kwargs)
        except OSError as error:
            if error.errno not in _GONE:
                click.echo(f"Error: Stopped: {error.strerror or error}.", err=True)
            sys.exit(1)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, and put what stopped it into words."""
        try:
            return super().invoke(ctx)
        except Problem as problem:
            command = self.get_command(ctx, ctx.invoked_subcommand or "") or ctx.command
            raise click.ClickException(options.told(problem, command)) from None
        except click.MissingParameter as missing:
            where = missing.ctx.command if missing.ctx else None
            if where not in (fly.brief, fly.rehearse, warmup.warmup):
                raise
            hint = "coach library lists them all."
            raise click.MissingParameter(hint, missing.ctx, missing.param) from None
        except (KeyboardInterrupt, click.Abort):  # the other at a question
            click.echo("Stopped.", err=True)
            ctx.exit(130)


@click.group(
    cls=_Sentences,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="coach")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Rehearse flight maneuvers aloud, at the tempo your airplane would really have.

    Without a command it opens its page in the browser. In the terminal, start with: coach brief
    lazy-eight, then: coach rehearse lazy-eight. All the maneuvers are listed by: coach library.

    This trains timing and words on the ground. The airplane's own handbook, local rules and a
    licensed instructor come first.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(page.page)


for command in (
    page.page,
    page.room,
    fly.brief,
    fly.rehearse,
    fly.record,
    study.debrief,
    study.logbook,
    coming.practice,
    warmup.warmup,
    machine.calibrate,
    hearing.listen,
    machine.voices,
    machine.outputs,
    machine.settings,
    scripts.new,
    scripts.check,
    scripts.schema,
    scripts.shelves,
):
    main.add_command(command)
