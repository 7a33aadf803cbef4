"""Options that several commands share, and what they are turned into."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click
from click.shell_completion import CompletionItem

from coach.callouts.support import SUPPORTS
from coach.flight.day import CHOICES, Choice, Day
from coach.problems import Problem, nearest
from coach.script import pace
from coach.script.standards import CHECKRIDES, Checkride
from coach.settings import Settings, change, learning_for, load
from coach.shelf import AIRPLANE
from coach.sound.bed import LEVELS

F = TypeVar("F", bound=Callable[..., Any])

ANY_CHECKRIDE = "any"
"""Takes back which checkride is learned for."""

KNOWN = (*CHECKRIDES, ANY_CHECKRIDE)
"""What ``--for`` takes."""


def the_airplane_and_day(command: F) -> F:
    """The options that say which airplane flies on which day."""
    return _all(
        command,
        click.option("--airplane", default=AIRPLANE, show_default=True, help="Name or YAML file."),
        *(_option(name, choice) for name, choice in CHOICES.items()),
    )


def _option(name: str, choice: Choice) -> Callable[[F], F]:
    """What a choice of the day is at the command line."""
    given = [word for word in choice.words if word]
    return click.option(
        f"--{name.replace('_', '-')}",
        type=click.Choice(given) if given else int if choice.whole else str,
        metavar=None if given else choice.metavar or choice.unit.upper(),
        help=choice.help,
    )


def the_way_it_is_heard(command: F) -> F:
    """The options that say how much the coach says, how fast and in which voice."""
    return _all(
        command,
        click.option(
            "--support",
            type=click.Choice(["auto", *SUPPORTS]),
            help="How much the coach says.  [as in the settings]",
        ),
        click.option(
            "--pace",
            type=click.FloatRange(pace.LEAST, pace.MOST),
            default=1.0,
            show_default=True,
            metavar="SHARE",
            help="0.5 flies at half the airplane's tempo, 1.5 at one and a half.",
        ),
        click.option("--voice", metavar="NAME", help="See coach voices.  [as in the settings]"),
        click.option("--rate", metavar="WPM", help="Words a minute.  [as in the settings]"),
        click.option(
            "--bed",
            metavar="LEVELS",
            help="The airplane's sounds: off, or engine=off,airflow=40%.  [as in the settings]",
        ),
    )


def the_checkride(command: F) -> F:
    """The option that says what the student learns for, kept in the settings."""
    return _all(
        command,
        click.option(
            "--for",
            "asked_at",
            metavar=f"[{'|'.join(KNOWN)}]",
            callback=_remembered,
            shell_complete=lambda _, __, begun: [
                CompletionItem(word) for word in KNOWN if word.startswith(begun)
            ],
            help="Which checkride is learned for, until another one is.  [as in the settings]",
        ),
    )


def _remembered(_: click.Context, __: click.Parameter, given: str | None) -> Checkride | None:
    """The student's checkride; one that is given is the student's from now on."""
    if given is not None and given not in KNOWN:
        raise Problem(f"--for: there is no checkride '{given}'{nearest(given, KNOWN)}")
    if given is None:
        return load().asked_at
    chosen, unkept = learning_for("" if given == ANY_CHECKRIDE else given)
    if unkept:
        click.echo(unkept, err=True)
    return chosen.asked_at


def day(options: dict[str, Any]) -> Day:
    """What `the_airplane_and_day` was told of the day; its names leave the options."""
    return Day(**{name: options.pop(name) for name in CHOICES})


def settings(options: dict[str, Any]) -> Settings:
    """The student's settings with what `the_way_it_is_heard` was told for this once."""
    pairs = [f"{name}={options[name]}" for name in ("support", "voice", "rate") if options[name]]
    bed = options["bed"]
    if bed in ("on", "off"):
        pairs += [f"{part}={bed}" for part in LEVELS]
    elif bed:
        for pair in bed.split(","):
            part, equals, _ = pair.partition("=")
            if not equals:
                raise Problem(f"--bed: found '{pair}', expected off, or such as engine=off.")
            if part.strip() not in LEVELS:
                raise Problem(f"--bed: there is no sound '{part.strip()}'{nearest(part, LEVELS)}")
            pairs.append(pair)
    return change(load(), pairs)


def _all(command: F, *options: Callable[[F], F]) -> F:
    for option in reversed(options):
        command = option(command)
    return command
