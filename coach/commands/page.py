"""``coach page``: the page served, and who is told what of it."""

from __future__ import annotations

import contextlib
import webbrowser
from collections.abc import Callable
from typing import Any, TypeVar

import click

from coach.commands.saying import say
from coach.page.app import make
from coach.page.room import file
from coach.page.room.room import Room
from coach.page.server import serving
from coach.page.server.guard import HAND
from coach.page.server.names import new_secret
from coach.page.server.phones_door import Door, Entrance
from coach.page.server.reach import HERE, addresses, at, names
from coach.page.server.ticket import Ticket

F = TypeVar("F", bound=Callable[..., Any])

PORT = 8642
"""Taken where it is free, so that the address stays the same from day to day."""


def the_server(command: F) -> F:
    """The options of a command that serves the page."""
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
@the_server
def page(lan: bool, address: str, port: int | None, no_browser: bool) -> None:
    """Rehearse in the browser, alone; the same as coach without a command."""
    serve(port, lan=lan or bool(address), address=address, open_browser=not no_browser)


def serve(
    port: int | None = None,
    *,
    lan: bool = False,
    address: str = "",
    open_browser: bool = True,
    room: str | None = None,
) -> None:
    """Serve the page, say where, and open it; Ctrl-C ends the process.

    Args:
        port: where; None for the usual one, or any free one where that is taken.
        lan: whether others in the same network can reach it.
        address: which of this machine's addresses they are told; "" for the likeliest.
        open_browser: whether to open it here.
        room: the name of a room to open, or to go on with after a restart; None for rehearsing
            alone.

    Raises:
        Problem: the port is taken, there is no network to be reached by, the address is not this
            machine's, or the room's name cannot be one or is that of one that is open.
    """
    nobodys: tuple[Room | None, int] = None, 0
    with (
        contextlib.nullcontext(nobodys) if room is None else file.opened(room) as (left, left_port)
    ):
        _serve(port, lan, address, open_browser, left, left_port)


def _serve(
    port: int | None,
    lan: bool,
    address: str,
    open_browser: bool,
    left: Room | None,
    left_port: int,
) -> None:
    key = left.key if left is not None else new_secret()
    # Before it listens: a machine in no network, or an address that is not its own, is said first.
    own = addresses(address)[0] if lan else HERE
    listener = serving.listening(port, left_port or PORT, "0.0.0.0" if lan else HERE)
    port = listener.getsockname()[1]
    door = Door(address, usual=port + 1, only=None if lan else HAND)
    entrance = door.bound() if lan else None
    opens = f"http://{at(HERE, port)}/{'alone' if left is None else 'room'}"
    said = [f"The coach's page: {opens}#{key}"]
    if entrance:
        code = "" if left is None else left.door.code
        said += _invitation(entrance, at(own, port), port, code)
    elif left is not None:
        said.append(
            f"The code is {left.door.code}. Only this machine reaches the page; for phones add "
            "--lan."
        )
    if left_port and left_port != port:
        said.append(f"The room was at port {left_port} before: phones join anew, by their names.")

    def ready() -> None:
        for line in [*said, "Ctrl-C closes it."]:
            say(line)
        if open_browser:
            webbrowser.open(f"{opens}#once.{ticket.write()}")

    ticket = Ticket(key)
    serving.serve(
        make(
            key=key,
            names=names() if lan else ["localhost"],
            reach=at(own, port),
            entrance=entrance,
            room=left,
            port=port,
            ticket=ticket,
            door=door,
        ),
        listener,
        ready,
        lambda: say("The page is closed."),
        door,
    )


def _invitation(entrance: Entrance, tapping: str, port: int, code: str) -> list[str]:
    """What others in the network need, and what may keep them out."""
    come, others = entrance.address, entrance.others
    warned = (
        "The first time, a phone's browser warns of a certificate that nobody else vouches for: "
        "open the warning's details and go on all the same, for this address alone. Its "
        f"fingerprint (SHA-256) is {entrance.fingerprint}"
    )
    if not entrance.kept:
        warned += ". It cannot be kept, and will be another one the next time"
    if not code:
        return [f"Others in this network reach {come}, and need the key after the #.", warned]
    elsewhere = (
        f"This machine is at {' and '.join(others)} as well: --address tells phones another."
    )
    return [
        f"Phones in the same network join at {come} with the code {code}; the page shows both, "
        "and a picture of them for a phone's camera.",
        warned,
        f"A phone that only taps may come to http://{tapping} instead, without a warning: names "
        "and taps could then be read on their way.",
        *([elsewhere] if others else []),
        f"Where a phone finds nothing there, let ports {port} and {entrance.port} in through this "
        "machine's firewall, or use another network: some keep their guests apart.",
        "Whoever is in this network can reach the page: use a network that you trust. Nobody joins "
        "without the code, and nobody leads the room without the key after the #.",
    ]
