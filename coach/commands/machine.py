"""``coach voices``, ``coach outputs``, ``coach settings`` and ``coach calibrate``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from coach.commands import kept, printing
from coach.problems import Problem, nearest

if TYPE_CHECKING:
    from coach.settings import Settings


@click.command()
@click.option("--all", "every", is_flag=True, help="Those of other languages too.")
def voices(every: bool) -> None:
    """The voices; coach settings voice=NAME chooses one."""
    from rich.table import Table

    from coach.sound.voices import voices as found

    table = Table(box=None, header_style="dim")
    for column in ("voice", "engine", "language"):
        table.add_column(column, no_wrap=True)
    table.add_column("licence")
    for voice in found():
        if not (every or voice.english):
            continue
        table.add_row(
            f"{voice.name}{' (usual)' if voice.usual else ''}",
            voice.engine,
            voice.language,
            voice.licence,
        )
    printing.console().print(table)


@click.command()
def outputs() -> None:
    """The sound devices; coach settings output=NAME chooses one."""
    from rich.table import Table

    from coach.sound.outputs import outputs as found

    table = Table("output", "through", "delay", box=None, header_style="dim")
    for output in found():
        delay = "" if output.latency_s is None else f"{1000 * output.latency_s:.0f} ms"
        table.add_row(f"{output.name}{' (usual)' if output.usual else ''}", output.backend, delay)
    printing.console().print(table)


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
def settings(changes: tuple[str, ...]) -> None:
    """Show or change what is chosen on this machine.

    Such as coach settings rate=160 engine=off; NAME= alone goes back to what the coach comes with.
    """
    from coach.settings import change, keep, load, told

    chosen = load()
    if changes:
        before, chosen = chosen, change(chosen, changes)
        _on_this_machine(before, chosen)
        path = keep(chosen)
        click.echo(f"Wrote {path}.", err=True)
    for name, value in told(chosen):
        shown = {True: "on", False: "off", "": "(the machine's own)"}.get(value, value)
        click.echo(f"{name:<9} {shown}")


def _on_this_machine(before: Settings, chosen: Settings) -> None:
    """Refuse a newly chosen voice or output that is not here, before it is written down."""
    if (name := chosen.voice) not in ("", before.voice):
        from coach.sound.voices import voices as spoken

        here = spoken()
        if not any(name.lower() in (voice.name.lower(), voice.id.lower()) for voice in here):
            known = [voice.name for voice in here if voice.english]
            raise Problem(f"voice: there is no '{name}' here{nearest(name, known)}")
    if (name := chosen.output) not in ("", before.output):
        from coach.sound.outputs import outputs as found

        known = [output.name for output in found()]
        if name not in known:
            raise Problem(f"output: there is no '{name}' here{nearest(name, known)}")


@click.command()
@click.option("--output", metavar="NAME", help="See coach outputs.  [as in the settings]")
@click.option("--student", default="", metavar="NAME", help="Whose hand it is.")
def calibrate(output: str | None, student: str) -> None:
    """Tap along with a tone, to measure your headset's delay."""
    from datetime import datetime

    from rich.text import Text

    from coach.logbook.calibration import Calibration
    from coach.rehearsal.calibration import calibrate as tap_along
    from coach.settings import load
    from coach.terminal.keys import Keys

    console = printing.console()
    with kept.logbook() as book, Keys() as keys, console.status("") as status:
        click.echo("Press the space bar together with each tone, as if you played it. q stops.")

        def show(sounded: int, tones: int, note: str) -> None:
            status.update(Text(f"tone {sounded} of {tones}  {note}"))

        found = tap_along(keys, show, output=output or load().output or None)
        if found is None:
            click.echo("Stopped: nothing was kept.")
            return
        offset, device = found
        click.echo(offset.sentence)
        if offset.offset_s is None or offset.low_s is None or offset.high_s is None:
            return
        now = datetime.now().astimezone()
        book.calibrate(
            Calibration(student, device, offset.offset_s, offset.low_s, offset.high_s, now)
        )
        click.echo(f"From now on it is taken off every tap{_of(student)} on {device}.")


def _of(student: str) -> str:
    return f" of {student}" if student else ""
