"""``coach library``."""

from __future__ import annotations

from collections.abc import Callable

import click

from coach.commands.group import seen
from coach.commands.saying import say
from coach.flight.airplane import load
from coach.flight.fit import derive
from coach.problems import Problem
from coach.script import catalog, warmup


@click.command()
def library() -> None:
    """Maneuvers, airplanes and warm-ups, and where your own go."""
    titles: dict[str, Callable[[str], str]] = {
        "maneuvers": lambda name: catalog.maneuver(name).title,
        "airplanes": _airplane,
        "warmups": lambda name: warmup.load(name).title,
    }
    for kind, title in titles.items():
        say(f"{kind}:")
        for name in catalog.names(kind):
            try:
                called = title(name)
            except Problem as problem:  # one at fault must not hide the others
                called = f"cannot be used: {problem}"
            say(seen(f"  {name:<28}{called}"))
        say(f"  (your own: {catalog.folders(kind)[0]})")


def _airplane(name: str) -> str:
    """Its title.

    Raises:
        Problem: its file has a fault, or its numbers contradict each other.
    """
    plane = load(name)
    derive(plane)
    return plane.title
