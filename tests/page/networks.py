"""Two machines in a network of their own: network namespaces of Linux, where they are permitted."""

from __future__ import annotations

import contextlib
import ctypes
import os
import subprocess
import threading
from collections.abc import Callable, Iterator
from typing import TypeVar

T = TypeVar("T")

_NEW_NETWORK = 0x40000000  # CLONE_NEWNET, linux/sched.h
_OWN = "/proc/thread-self/ns/net"


class Machine:
    """A machine with network interfaces of its own, gone once it is closed and nothing runs in it."""

    def __init__(self) -> None:
        """Raises OSError where it is not permitted."""

        def made() -> int:
            _called("unshare", _NEW_NETWORK)
            return os.open(_OWN, os.O_RDONLY)

        self._file = _in_a_thread(made)

    def close(self) -> None:
        os.close(self._file)

    def does(self, what: Callable[[], T]) -> T:
        """Do something there, as a thread of this process; processes it begins are there as well."""

        def there() -> T:
            _called("setns", self._file, _NEW_NETWORK)
            return what()

        return _in_a_thread(there)

    def ip(self, *words: str) -> None:
        """What the system's ``ip`` does there; OSError where it cannot."""

        def run() -> None:
            done = subprocess.run(["ip", *words], pass_fds=[self._file], capture_output=True)
            if done.returncode:
                raise OSError(done.stderr.decode())

        self.does(run)

    @property
    def path(self) -> str:
        """Its name for ``ip``, while this process lasts."""
        return f"/proc/{os.getpid()}/fd/{self._file}"


@contextlib.contextmanager
def two_machines() -> Iterator[tuple[Machine, Machine]]:
    """Joined by a cable, at 10.77.0.1 and 10.77.0.2; no way leads anywhere else.

    The first has a bridge for containers as well, at 172.17.0.1.

    Raises:
        OSError: not permitted, or no Linux.
    """
    with contextlib.ExitStack() as stack:
        one = stack.enter_context(contextlib.closing(Machine()))
        other = stack.enter_context(contextlib.closing(Machine()))
        one.ip("link", "add", "br0", "type", "bridge")
        # A maker's hardware address (not a made up one), as a real machine's card has.
        cable = ["type", "veth", "peer", "name", "from", "netns", other.path]
        one.ip("link", "add", "to", "address", "3c:00:00:00:00:01", *cable)
        for machine, name, address in (
            (one, "br0", "172.17.0.1/16"),
            (one, "to", "10.77.0.1/24"),
            (other, "from", "10.77.0.2/24"),
        ):
            machine.ip("address", "add", address, "dev", name)
            machine.ip("link", "set", name, "up")
            machine.ip("link", "set", "lo", "up")
        yield one, other


def _called(name: str, *numbers: int) -> None:
    function = getattr(ctypes.CDLL(None, use_errno=True), name, None)
    if function is None:
        raise OSError(f"This system has no {name}.")
    if function(*numbers):
        raise OSError(ctypes.get_errno(), name)


def _in_a_thread(what: Callable[[], T]) -> T:
    """What it makes, or raises, in a thread that ends with it: its network is its own."""
    made: list[T] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            made.append(what())
        except BaseException as error:
            failed.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    if failed:
        raise failed[0]
    return made[0]
