"""Commands that are loaded when they are called, and whose problems are one sentence."""

from __future__ import annotations

import contextlib
import errno
import importlib
import io
import sys
from collections.abc import Iterator
from typing import Any

import click

from coach.commands.saying import say
from coach.problems import Problem
from coach.words import shown

_GONE = (errno.EIO, errno.EPIPE)
"""What a write meets when the terminal was closed or the pipe was cut: nobody is there to tell."""

_FLIES = ("brief", "rehearse", "warmup")
"""The commands that need a name from the library."""


def load(name: str) -> click.Command:
    """A command, from the module of its name."""
    module = importlib.import_module(f"coach.commands.{name}")
    commands = (one for one in vars(module).values() if isinstance(one, click.Command))
    return next(one for one in commands if one.name == name)


def told(problem: Problem, command: click.Command) -> str:
    """The sentence on a problem, a field at fault named as the command's option for it."""
    options = {one.name: one.opts[0] for one in command.params}
    return seen(problem.named(options.get(problem.field, problem.field)))


def seen(said: str) -> str:
    """What is said, line by line as a terminal can show it: it may quote what came from outside."""
    return "\n".join(map(shown, said.split("\n")))


@contextlib.contextmanager
def _seen() -> Iterator[None]:
    """What click tells of an error can be shown on a terminal, and is broken between words."""
    try:
        yield
    except click.ClickException as error:
        said = io.StringIO()
        error.show(said)
        vars(error).update(show=lambda: say(seen(said.getvalue().rstrip("\n")), err=True))
        raise


class Commands(click.Group):
    """A group that holds of each command its name and help, until it is called."""

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

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        """What stands before the command's name, read."""
        with _seen():
            return super().make_context(*args, **kwargs)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is called, loaded."""
        name, _, left = super().resolve_command(ctx, args)
        return name, load(name) if name else None, left

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, and put what stopped it into words."""
        with _seen():
            try:
                return super().invoke(ctx)
            except Problem as problem:
                name = ctx.invoked_subcommand
                raise click.ClickException(told(problem, load(name) if name else self)) from None
            except click.MissingParameter as missing:
                if not missing.ctx or missing.ctx.info_name not in _FLIES:
                    raise
                hint = "coach library lists them all."
                raise click.MissingParameter(hint, missing.ctx, missing.param) from None
            except (KeyboardInterrupt, click.Abort):  # the other at a question
                click.echo("Stopped.", err=True)
                ctx.exit(130)
