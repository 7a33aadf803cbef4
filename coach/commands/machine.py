"""``coach voices``, ``coach outputs`` and ``coach settings``."""

from __future__ import annotations

import click


@click.command()
@click.option("--all", "every", is_flag=True, help="Those of other languages too.")
def voices(every: bool) -> None:
    """What this machine can speak with; coach settings voice=NAME chooses one."""
    from rich.console import Console
    from rich.table import Table

    from coach.sound.voices import voices as found

    table = Table("voice", "engine", "language", "licence", box=None, header_style="dim")
    for voice in found():
        if not (every or voice.english):
            continue
        table.add_row(
            f"{voice.name}{' (usual)' if voice.usual else ''}",
            voice.engine,
            voice.language,
            voice.licence,
        )
    Console(highlight=False).print(table)


@click.command()
def outputs() -> None:
    """The sound devices; coach settings output=NAME chooses one."""
    from rich.console import Console
    from rich.table import Table

    from coach.sound.outputs import outputs as found

    table = Table("output", "through", "delay", box=None, header_style="dim")
    for output in found():
        delay = "" if output.latency_s is None else f"{1000 * output.latency_s:.0f} ms"
        table.add_row(f"{output.name}{' (usual)' if output.usual else ''}", output.backend, delay)
    Console(highlight=False).print(table)


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
def settings(changes: tuple[str, ...]) -> None:
    """Show what is chosen on this machine, or change it: coach settings rate=160 engine=off."""
    from coach.settings import change, keep, load, told

    chosen = load()
    if changes:
        chosen = change(chosen, changes)
        path = keep(chosen)
        click.echo(f"Wrote {path}.", err=True)
    for name, value in told(chosen):
        shown = {True: "on", False: "off", "": "(the machine's own)"}.get(value, value)
        click.echo(f"{name:<9} {shown}")
