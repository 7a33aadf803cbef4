"""Where phones come to: this machine's addresses, the one they are likeliest to reach first."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable
from dataclasses import dataclass

from coach.problems import Problem, nearest

HERE = "127.0.0.1"

_LEFT_OUT = {"http": 80, "https": 443}
"""The ports that browsers leave out of an address."""


@dataclass(frozen=True)
class Way:
    """One of this machine's ways into a network.

    Attributes:
        address: IPv4, in numbers.
        hardware: its hardware address; "" for a tunnel, which has none.
        default: whether what goes anywhere else goes this way.
    """

    address: str
    hardware: str = ""
    default: bool = False


def likeliest(ways: Iterable[Way]) -> list[str]:
    """Addresses that phones may reach, the likeliest first.

    A tunnel leads to another network. The way to everywhere else is the one in the room, where
    there is one. Bridges to containers and virtual machines made their hardware addresses up, and
    say so by a bit of them (IEEE 802, "locally administered"). An address that nobody gave out is
    good only without any other (RFC 3927).
    """

    def doubts(way: Way) -> tuple[bool, ...]:
        made_up = bool(int(way.hardware[:2] or "0", 16) & 0b10)
        unasked = ipaddress.ip_address(way.address).is_link_local
        return (not way.hardware, unasked, not way.default, made_up)

    return [way.address for way in sorted(ways, key=doubts)]


def addresses(wanted: str = "") -> list[str]:
    """This machine's addresses, the one that phones come to first.

    Args:
        wanted: that one; "" for the likeliest.

    Raises:
        Problem: the machine has no such address, or is in no network.
    """
    found = likeliest(_ways())
    if not found:
        raise Problem("This machine has no IPv4 address that phones could come to: join a network.")
    if wanted and wanted not in found:
        raise Problem(f"{wanted} is no address of this machine{nearest(wanted, found)}")
    return sorted(found, key=lambda one: one != wanted)


def at(address: str, port: int, scheme: str = "http") -> str:
    """Address and port as browsers write them, also in the ``Host`` header."""
    return address if port == _LEFT_OUT[scheme] else f"{address}:{port}"


def names() -> list[str]:
    """What this machine may be called besides its addresses."""
    # ".local": multicast DNS, RFC 6762.
    return ["localhost", f"{socket.gethostname().lower()}.local"]


def _ways() -> list[Way]:
    import psutil  # here, as rehearsing alone needs none of it

    default, states = _default(), psutil.net_if_stats()
    found = []
    for name, kinds in psutil.net_if_addrs().items():
        if name in states and not states[name].isup:
            continue
        hardware = next((one.address for one in kinds if one.family == psutil.AF_LINK), "")
        found += [
            Way(one.address, hardware, one.address == default)
            for one in kinds
            if one.family == socket.AF_INET and not ipaddress.ip_address(one.address).is_loopback
        ]
    return found


def _default() -> str:
    """The address that what goes anywhere else is sent from; "" where nothing can be."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            # Nothing is sent: the system only says which way it would go. An address for
            # documentation, RFC 5737.
            one.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        found: str = one.getsockname()[0]
        return found
