"""``coach room``."""

from __future__ import annotations

import click

from coach.commands.page import serve, the_server


@click.command()
@click.argument("name", default="Classroom")
@the_server
def room(name: str, lan: bool, address: str, port: int | None, no_browser: bool) -> None:
    """Lead a group: your page is screen and loudspeaker, students tap on their phones.

    NAME is any word for the room, Classroom where none is given. Phones reach it with --lan; the
    same name again goes on with the room as it was.
    """
    serve(port, lan=lan or bool(address), address=address, open_browser=not no_browser, room=name)
