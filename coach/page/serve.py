"""The page served on this machine, until Ctrl-C."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import webbrowser

import click
import uvicorn

from coach.page import keeping
from coach.page.app import make
from coach.page.messages import MESSAGE_BYTES
from coach.page.student import new_secret
from coach.problems import Problem

PORT = 8642
"""Taken where it is free, so that the address stays the same from day to day."""

_MOST_CONNECTIONS = 1000
_OPEN_REQUESTS_S = 2


def serve(
    port: int | None = None,
    *,
    lan: bool = False,
    open_browser: bool = True,
    room: str | None = None,
) -> None:
    """Serve the page, say where, and open it; returns after Ctrl-C.

    Args:
        port: where; None for the usual one, or any free one where that is taken.
        lan: whether others in the same network can reach it.
        open_browser: whether to open it here.
        room: the name of a room to open, or to go on with after a restart; None for rehearsing
            alone.

    Raises:
        Problem: the port is taken, there is no network to be reached by, or the room's name cannot
            be one.
    """
    kept, kept_port = keeping.restored(room) if room is not None else (None, 0)
    key = kept.key if kept is not None else new_secret()
    with _listening(port, kept_port or PORT, lan=lan) as listener:
        port = listener.getsockname()[1]
        here = f"127.0.0.1:{port}"
        reach = f"{_own_address()}:{port}" if lan else here
        app = make(
            {here, f"localhost:{port}", reach},
            key=key,
            reach=reach,
            lan=lan,
            room=kept,
            port=port,
        )
        server = uvicorn.Server(
            uvicorn.Config(
                app,
                log_level="error",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ws_per_message_deflate=False,
                date_header=False,
                ws_max_size=MESSAGE_BYTES,
                limit_concurrency=_MOST_CONNECTIONS,
                timeout_graceful_shutdown=_OPEN_REQUESTS_S,
            )
        )
        address = f"http://{here}/{'alone' if kept is None else 'room'}#{key}"
        for line in _said(address, reach, lan=lan, code="" if kept is None else kept.code):
            click.echo(line)
        if kept_port and kept_port != port:
            click.echo(f"Port {kept_port} is taken: phones have to join the room anew.")
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_served(server, listener, address if open_browser else ""))
        click.echo("The page is closed.")


async def _served(server: uvicorn.Server, listener: socket.socket, address: str) -> None:
    serving = asyncio.create_task(server.serve(sockets=[listener]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.02)
    if address and not serving.done():
        await asyncio.to_thread(webbrowser.open, address)
    await serving


def _said(address: str, reach: str, *, lan: bool, code: str) -> list[str]:
    lines = [f"The coach's page: {address}"]
    if code and lan:
        lines += [
            f"Phones in the same network join at http://{reach} with the code {code}.",
            "Whoever is in this network can reach the page, and could read names and taps on their "
            "way: use a network that you trust. Nobody joins without the code, and nobody leads "
            "the room without the address above.",
        ]
    elif code:
        lines.append(
            f"The code is {code}. Only this machine reaches the page; for phones add --lan."
        )
    elif lan:
        lines.append(f"Others in this network reach http://{reach}, and need the key after the #.")
    return [*lines, "Ctrl-C closes it."]


def _listening(port: int | None, usual: int, *, lan: bool) -> socket.socket:
    """A socket that listens on the port, or the usual one, or any that is free."""
    host = "0.0.0.0" if lan else "127.0.0.1"
    for wanted in (port,) if port is not None else (usual, 0):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, wanted))
        except (OSError, OverflowError):
            listener.close()
            continue
        return listener
    raise Problem(f"Port {port} cannot be used here: another program has it, or it is none.")


def _own_address() -> str:
    """This machine's address in its network.

    Raises:
        Problem: it is in none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            # Nothing is sent: the system only says which way it would go. An address for
            # documentation, RFC 5737.
            one.connect(("192.0.2.1", 9))
        except OSError:
            raise Problem("This machine is in no network that phones could come by.") from None
        address: str = one.getsockname()[0]
        return address
