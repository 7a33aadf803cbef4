"""``coach warmup``."""

from __future__ import annotations

import random
import time
from typing import Any

import click

from coach.commands import kept, options, printing


@click.command()
@click.argument("name")
@options.the_airplane_and_day
@options.the_way_it_is_heard
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option("--student", default="", metavar="NAME", help="Whose runs they are.")
@click.option(
    "--seed", type=int, metavar="N", help="Draws the order of a shuffled one.  [by chance]"
)
def warmup(
    name: str, airplane: str, output: str | None, student: str, seed: int | None, **given: Any
) -> None:
    """Several maneuvers in a row, as on the morning of a checkride."""
    from dataclasses import replace

    from rich.text import Text

    from coach import rehearsal
    from coach.commands import live
    from coach.script.warmup import load
    from coach.taps.pressing import ALONE

    script = load(name)
    if script.order == "shuffled":
        script = script.shuffled(random.randrange(1_000_000) if seed is None else seed)
    day, chosen = options.day(given), options.settings(given)
    console = printing.console()
    with kept.logbook() as book:
        ready = []
        for item in script.maneuvers:
            with console.status(Text(f"Planning {item.maneuver}, and waking the voice ...")):
                its_day = replace(
                    day, loops=item.loops or day.loops, direction=item.direction or day.direction
                )
                flight = rehearsal.fly(item.maneuver, airplane, its_day)
                support, _ = rehearsal.support(chosen, book, item.maneuver, student)
                choices = rehearsal.Choices.of(chosen, support, given["pace"] * item.pace)
                ready.append(rehearsal.prepare(flight, its_day, choices))
        for place, one in enumerate(ready):
            if place:
                coming = f"Next: {one.flight.maneuver.title}. Ctrl-C ends it here."
                with console.status(Text(coming)):
                    time.sleep(script.pause)
            done = live.fly(
                one,
                book,
                console,
                output=output or chosen.output or None,
                students={ALONE: student},
            )
            live.tell(done, book, console)
            if not done.finished:
                return
