"""``coach settings``."""

from __future__ import annotations

import click

from coach.commands.saying import say
from coach.problems import Problem, nearest
from coach.settings import Settings, change, keep, load, told
from coach.sound.outputs import outputs
from coach.sound.voices import voices

UNSET = {
    "voice": "(the usual one)",
    "output": "(the machine's own)",
    "checkride": "(any)",
    "weights": "(those that are installed)",
    "listening": "(not fitted; see coach listen)",
}
"""What is taken where nothing is chosen."""


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
def settings(changes: tuple[str, ...]) -> None:
    """Show or change what is chosen on this machine.

    Such as coach settings rate=160 engine=off; NAME= alone goes back to what the coach comes with.
    """
    chosen = load()
    if changes:
        before, chosen = chosen, change(chosen, changes)
        _on_this_machine(before, chosen)
        path = keep(chosen)
        say(f"Wrote {path}.", err=True)
    for name, value in told(chosen):
        say(f"{name:<9} {_shown(name, value)}")


def _shown(name: str, value: object) -> object:
    if isinstance(value, dict):
        fitted = (
            f"{one} (begins {db['begins']:.2g} dB, goes on {db['goes on']:.2g} dB)"
            for one, db in value.items()
        )
        return ", ".join(fitted) or UNSET[name]
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if value != "" else UNSET.get(name, "")


def _on_this_machine(before: Settings, chosen: Settings) -> None:
    """Refuse a newly chosen voice or output that is not here, before it is written down."""
    if (name := chosen.voice) not in ("", before.voice):
        here = voices()
        if not any(name.lower() in (voice.name.lower(), voice.id.lower()) for voice in here):
            known = [voice.name for voice in here if voice.english]
            raise Problem(f"voice: there is no '{name}' here{nearest(name, known)}")
    if (name := chosen.output) not in ("", before.output):
        known = [output.name for output in outputs()]
        if name not in known:
            raise Problem(f"output: there is no '{name}' here{nearest(name, known)}")
