"""What the browser's address carries in the key's place while everybody can read it.

Every user of a machine can list its processes with their arguments, and a browser that starts has
the address among its own. So that ends in a ticket, which the page gives for the key.
"""

from __future__ import annotations

import hmac
import os
import socket
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from coach.page.server.names import new_secret
from coach.problems import Problem

GOOD_S = 60.0
"""How long a browser may take to start."""

_TABLES = (Path("/proc/net/tcp"), Path("/proc/net/tcp6"))

_PRINTED = "take the address that the coach printed."


class Ticket:
    """Good once, for a minute, and for this machine's own user where the system tells who asks."""

    def __init__(self, key: str, clock: Callable[[], float] = time.monotonic) -> None:
        """None is written yet."""
        self._key = key
        self._clock = clock
        self._written = ""
        self._since_s = 0.0
        self._used = False

    def write(self) -> str:
        """A new one, good from now on."""
        self._written, self._since_s, self._used = new_secret(), self._clock(), False
        return self._written

    def take(self, shown: str, client: tuple[str, int], server: tuple[str, int]) -> str:
        """The key for a ticket.

        Args:
            shown: the ticket.
            client: address and port that it is shown from.
            server: and to.

        Raises:
            Problem: it is not good, or not any more, or another user shows it.
        """
        if not self._written or not hmac.compare_digest(shown.encode(), self._written.encode()):
            raise Problem(f"This address leads nowhere any more: {_PRINTED}")
        if not _is_ours(client, server):
            raise Problem(f"This address is good for who started the coach: {_PRINTED}")
        if self._used:
            raise Problem(f"This address was used already, and is good once: {_PRINTED}")
        if self._clock() - self._since_s > GOOD_S:
            raise Problem(f"This address was good for {GOOD_S:.0f} seconds: {_PRINTED}")
        self._used = True
        return self._key


def _is_ours(client: tuple[str, int], server: tuple[str, int]) -> bool:
    """Whether a connection comes from a process of this one's user, where the system tells."""
    if sys.platform != "linux":
        return True
    told = False
    for table in _TABLES:
        try:
            lines = table.read_text("ascii").splitlines()[1:]
        except (OSError, ValueError):
            continue
        told = True
        user = owner(lines, client, server)
        if user is not None:
            return user in (os.getuid(), 0)  # who may do anything has no need of it
    return not told


def owner(lines: Iterable[str], client: tuple[str, int], server: tuple[str, int]) -> int | None:
    """The user whose end of a connection is at `client`.

    Args:
        lines: of Linux's table of connections, as its kernel's documentation has them in
            ``networking/proc_net_tcp``: local and remote address with port, and the user last but
            two of the columns named there.
        client: address and port of that end.
        server: of the other one.

    Returns:
        None where there is no such connection.
    """
    ends = (_in_table(*client), _in_table(*server))
    for line in lines:
        columns = line.split()
        # IPv4 within IPv6 ends with the same eight digits.
        if len(columns) > 7 and tuple(one[-13:] for one in columns[1:3]) == ends:
            return int(columns[7])
    return None


def _in_table(address: str, port: int) -> str:
    """``"0100007F:1F90"``: IPv4 as the number that it is in this machine's memory."""
    return f"{int.from_bytes(socket.inet_aton(address), sys.byteorder):08X}:{port:04X}"
