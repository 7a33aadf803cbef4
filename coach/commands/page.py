"""``coach page`` and ``coach room``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def _the_server(command: F) -> F:
    for option in (
        click.option("--no-browser", is_flag=True, help="Say the address, open nothing."),
        click.option("--port", type=click.IntRange(1, 65535), metavar="N", help="[a free one]"),
        click.option(
            "--address",
            default="",
            metavar="A",
            help="The same by this one of the machine's addresses.  [the likeliest]",
        ),
        click.option("--lan", is_flag=True, help="Let others in this network reach it."),
    ):
        command = option(command)
    return command


@click.command()
@_the_server
def page(lan: bool, address: str, port: int | None, no_browser: bool) -> None:
    """Rehearse in the browser, alone; the same as coach without a command."""
    from coach.page.server.serve import serve

    serve(port, lan=lan or bool(address), address=address, open_browser=not no_browser)


@click.command()
@click.argument("name", default="Classroom")
@_the_server
def room(name: str, lan: bool, address: str, port: int | None, no_browser: bool) -> None:
    """Lead a group: your page is screen and loudspeaker, students tap on their phones.

    NAME is any word for the room, Classroom where none is given. Phones reach it with --lan; the
    same name again goes on with the room as it was.
    """
    from coach.page.server.serve import serve

    serve(port, lan=lan or bool(address), address=address, open_browser=not no_browser, room=name)
