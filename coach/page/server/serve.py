"""The page served on this machine, until Ctrl-C."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import webbrowser
from collections.abc import Callable

import click
import uvicorn

from coach.page.app import make
from coach.page.room import keeping
from coach.page.room.messages import MESSAGE_BYTES
from coach.page.room.student import new_secret
from coach.page.server.connections import MOST, Connection, many_files
from coach.page.server.reach import HERE, addresses, at
from coach.problems import Problem

PORT = 8642
"""Taken where it is free, so that the address stays the same from day to day."""

_OPEN_REQUESTS_S = 1
"""What is asked for as the page is closed has so long to be answered, and is given up then."""


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
            machine's, or the room's name cannot be one.
    """
    kept, kept_port = keeping.restored(room) if room is not None else (None, 0)
    key = kept.key if kept is not None else new_secret()
    own = addresses(address) if lan else [HERE]
    with _listening(port, kept_port or PORT, "0.0.0.0" if lan else HERE) as listener:
        port = listener.getsockname()[1]
        page = f"http://{at(HERE, port)}/{'alone' if kept is None else 'room'}#{key}"
        said = [f"The coach's page: {page}"]
        if lan:
            said += _invitation(own, port, code="" if kept is None else kept.code)
        elif kept is not None:
            said.append(
                f"The code is {kept.code}. Only this machine reaches the page; "
                "for phones add --lan."
            )
        if kept_port and kept_port != port:
            said.append(
                f"The room was at port {kept_port} before: phones join anew, by their names."
            )
        app = make(
            key=key, names=_names(lan=lan), reach=at(own[0], port), lan=lan, room=kept, port=port
        )
        server = uvicorn.Server(
            uvicorn.Config(
                app,
                http=Connection,
                log_level="error",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ws_per_message_deflate=False,
                date_header=False,
                ws_max_size=MESSAGE_BYTES,
                limit_concurrency=MOST,
                timeout_graceful_shutdown=_OPEN_REQUESTS_S + 2,  # for browsers that take no answer
            )
        )

        def ready() -> None:
            for line in [*said, "Ctrl-C closes it."]:
                click.echo(line)
            if open_browser:
                webbrowser.open(page)

        many_files()
        asyncio.run(_served(server, listener, ready))


async def _served(
    server: uvicorn.Server, listener: socket.socket, ready: Callable[[], None]
) -> None:
    # When it has closed, the server passes Ctrl-C on.
    with contextlib.suppress(asyncio.CancelledError, KeyboardInterrupt):
        serving = asyncio.create_task(server.serve(sockets=[listener]))
        while not server.started and not serving.done():
            await asyncio.sleep(0.02)
        if not serving.done():
            await asyncio.to_thread(ready)
        while not (server.should_exit or serving.done()):
            await asyncio.sleep(0.1)
        await asyncio.wait([serving], timeout=_OPEN_REQUESTS_S)
        for task in server.server_state.tasks:
            task.cancel()
        await serving
    click.echo("The page is closed.")
    # Python would wait for threads that compute what nobody waits for; all that counts is on disk.
    os._exit(0)


def _invitation(own: list[str], port: int, code: str) -> list[str]:
    """What others in the network need, and what may keep them out."""
    first, *others = own
    come = f"http://{at(first, port)}"
    if not code:
        return [f"Others in this network reach {come}, and need the key after the #."]
    elsewhere = (
        f"This machine is at {' and '.join(others)} as well: --address tells phones another."
    )
    return [
        f"Phones in the same network join at {come} with the code {code}; the page shows both, "
        "and a picture of them for a phone's camera.",
        *([elsewhere] if others else []),
        f"Where a phone finds nothing there, let port {port} in through this machine's firewall, "
        "or use another network: some keep their guests apart.",
        "Whoever is in this network can reach the page, and could read names and taps on their "
        "way: use a network that you trust. Nobody joins without the code, and nobody leads the "
        "room without the key after the #.",
    ]


def _names(*, lan: bool) -> set[str]:
    """What this machine may be called besides its addresses."""
    # ".local": multicast DNS, RFC 6762.
    return {"localhost", f"{socket.gethostname().lower()}.local"} if lan else {"localhost"}


def _listening(port: int | None, usual: int, host: str) -> socket.socket:
    """A socket that listens on the port, or the usual one, or any that is free."""
    for wanted in (port,) if port is not None else (usual, 0):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # elsewhere it would share the port with whoever has it
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, wanted))
            listener.listen()  # now, or another coach could still take the port
        except (OSError, OverflowError):
            listener.close()
            continue
        return listener
    raise Problem(f"Port {port} cannot be used here: another program has it, or it is none.")
