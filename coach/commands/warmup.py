"""``coach warmup``."""

from __future__ import annotations

import math
import random
import shlex
import time
from typing import Any, Literal

import click
from click.core import ParameterSource
from rich.console import Console
from rich.text import Text

from coach.commands import live, logbooks, options, printing
from coach.commands.group import told
from coach.commands.saying import say
from coach.flight.airplane import load as airplane_of
from coach.rehearsal import warmup as warming
from coach.rehearsal.ready import prepare, support_for
from coach.rehearsal.run import FRAME_S
from coach.script.warmup import load
from coach.taps.pressing import ALONE
from coach.terminal.keys import Keys

Answer = Literal["fly", "skip", "end"]
"""What the student wants of the next maneuver."""

_KEYS: dict[str, Answer] = {
    "enter": "fly", "s": "skip", "q": "end", "ctrl-c": "end", "closed": "end",
}  # fmt: skip
"""What the keys between two maneuvers do. Not the space bar: that is where a late tap ends up."""


@click.command()
@click.argument("name")
@options.the_airplane_and_day
@options.the_way_it_is_heard
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option(
    "--student", default="", callback=logbooks.somebody, metavar="NAME", help="Whose runs they are."
)
@click.option("--from", "start", metavar="MANEUVER", help="Begin there; its name or its number.")
@click.option(
    "--seed", type=int, metavar="N", help="Draws the order of a shuffled one.  [by chance]"
)
@click.pass_context
def warmup(
    ctx: click.Context,
    /,
    name: str,
    airplane: str,
    output: str | None,
    student: str,
    start: str | None,
    seed: int | None,
    **given: Any,
) -> None:
    """Several maneuvers in a row, as on the morning of a checkride.

    Between two of them Enter flies the next one at once, s skips it and q ends the warm-up. While
    one is flown q ends that one, and Ctrl-C all of them. --altitude is for the maneuvers that are
    entered up high; those near the ground begin above --ground. What is in one, and whether all of
    it can be flown, is told by coach check NAME.
    """
    script = load(name)
    if script.order == "shuffled":
        seed = random.randrange(1_000_000) if seed is None else seed
        script = script.shuffled(seed)
    first = 1 if start is None else warming.place(script, start)
    airplane_of(airplane)
    day, settings = options.day(given), options.settings(given)
    console = printing.console()
    with console.status("Planning ...") as status:
        parts, left_out = warming.planned(
            script,
            airplane,
            day,
            first=first,
            show=lambda maneuver: status.update(Text(f"Planning {maneuver} ...")),
        )
    for maneuver, why in left_out.items():
        say(f"Left out, {maneuver}: {told(why, ctx.command)}")
    say(warming.summary(script, parts, given["pace"]))
    flown, next_place = 0, None
    with logbooks.opened(to_fly=True) as book:
        for part in parts:
            next_place = part.place
            try:
                until = time.monotonic() + script.pause
                title = part.flight.maneuver.title
                with console.status(Text(f"{title}: waking the voice ...")):
                    support, _ = support_for(settings, book, part.item.maneuver, student)
                    pace = given["pace"] * part.item.pace
                    ready = prepare(part.flight, part.day, settings, support=support, pace=pace)
                choice = _between(console, title, until)
            except KeyboardInterrupt:
                break
            if choice == "end":
                break
            if choice == "skip":
                continue
            run = live.fly(
                ready,
                book,
                console,
                output=output or settings.output or None,
                students={ALONE: student},
            )
            live.tell(run, book, console)
            flown += run.finished
            if run.left:
                break
        else:
            next_place = None
    done = f"{flown} of {len(parts)} flown"
    if next_place is None:
        say(f"{done}.")
    else:
        say(f"{done}; go on with:")
        # On one line whatever the width, so that it can be copied.
        click.echo(_again(ctx, warming.called(script, next_place), seed))


def _between(console: Console, title: str, until: float) -> Answer:
    """What the student wants of the next maneuver; the time for it being over, to fly it."""
    has_screen = console.is_terminal and not console.is_dumb_terminal
    if not has_screen:
        say(f"Next: {title}. Enter now, s skip, q end.")
    with Keys() as keys, console.status(Text(f"Next: {title}")) as status:
        while (left := until - time.monotonic()) > 0.0:
            for press in keys.presses():
                if press.key in _KEYS:
                    return _KEYS[press.key]
            coming = f"Next: {title}, in {math.ceil(left)} s   Enter now   s skip   q end"
            status.update(Text(coming))
            time.sleep(FRAME_S)
    return "fly"


def _again(ctx: click.Context, start: str, seed: int | None) -> str:
    """The command that goes on there, with everything else that was given to this one."""
    words = ["coach", "warmup", ctx.params["name"]]
    for option in ctx.command.params:
        given = ctx.get_parameter_source(option.name or "") is ParameterSource.COMMANDLINE
        if given and option.name not in ("name", "start", "seed"):
            words += [option.opts[0], str(ctx.params[option.name or ""])]
    words += ["--from", start] + (["--seed", str(seed)] if seed is not None else [])
    return shlex.join(words)
