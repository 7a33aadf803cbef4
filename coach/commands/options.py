"""Options that several commands share, and what they are turned into."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from coach.callouts.support import SUPPORTS
from coach.flight.day import Day
from coach.problems import Problem, nearest
from coach.script import pace
from coach.settings import Settings, change, load
from coach.shelf import AIRPLANE
from coach.sound.bed import LEVELS

F = TypeVar("F", bound=Callable[..., Any])


def the_airplane_and_day(command: F) -> F:
    """The options that say which airplane flies on which day."""
    return _all(
        command,
        click.option("--airplane", default=AIRPLANE, show_default=True, help="Name or YAML file."),
        click.option("--weight", metavar="LB", help="Such as 2300lb.  [gross weight]"),
        click.option("--altitude", metavar="FT", help="Entry altitude above sea level."),
        click.option("--ground", metavar="FT", help="Elevation of the ground.  [0 ft]"),
        click.option("--altimeter", metavar="INHG", help="Such as 29.80, or 1009hPa.  [standard]"),
        click.option("--temperature", metavar="C", help="At that altitude.  [standard day]"),
        click.option(
            "--wind",
            metavar="WIND",
            help="calm, across@15, 240@15, or 24015KT.  [as the script asks]",
        ),
        click.option("--heading", metavar="DEG", help="Entry heading.  [as the wind asks]"),
        click.option("--entry-speed", metavar="KT", help="Indicated.  [as the script asks]"),
        click.option(
            "--direction",
            type=click.Choice(["right", "left"]),
            help="Of the first turn.  [as usual: mostly right]",
        ),
        click.option("--loops", type=int, metavar="N", help="How many.  [the whole figure]"),
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


def day(options: dict[str, Any]) -> Day:
    """What `the_airplane_and_day` was told of the day; its names leave the options."""
    return Day(**{name: options.pop(name) for name in Day.__dataclass_fields__})


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
