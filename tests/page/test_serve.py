"""Where the page is served, and who is told what of it."""

from __future__ import annotations

import signal
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from coach.commands.page import serve
from coach.problems import Problem
from tests.page.people import Served, served


def test_a_port_that_another_program_has_is_a_sentence(home: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(Problem, match=f"Port {port} cannot be used here"):
            serve(port, open_browser=False)
    with pytest.raises(Problem, match="Port 70000 cannot be used here"):
        serve(70000, open_browser=False)


def test_two_pages_at_once_have_ports_of_their_own(home: Path) -> None:
    with served(home) as one, served(home) as other:
        assert one.port != other.port
        assert one.key != other.key


def test_only_this_machine_reaches_the_page(alone: Served) -> None:
    listening = Path("/proc/net/tcp")
    if not listening.exists():
        pytest.skip("only Linux lists the sockets of a machine there")
    wanted = f":{alone.port:04X}"
    # Those that listen (state 0A of Linux' tcp_states.h): another test's client may have this port
    # at its own end, at another address.
    rows = [line.split() for line in listening.read_text().splitlines()[1:]]
    places = {row[1] for row in rows if row[3] == "0A"}
    assert {place for place in places if place.endswith(wanted)} == {f"0100007F{wanted}"}


def test_a_room_without_a_network_says_that_phones_need_one(blue: Served) -> None:
    assert blue.opens == "room" and len(blue.code) == 6
    assert "for phones add --lan" in blue.said


def test_a_rooms_name_that_cannot_be_one_is_a_sentence(home: Path) -> None:
    for name in ("", " ", "x" * 40):
        with pytest.raises(Problem, match="The room's name is"):
            serve(open_browser=False, room=name)


_COMPUTES = """
import os
from coach.page.alone import api
def endless():
    open(os.environ["COACH_HOME"] + "/begun", "a").close()
    while True:
        pass
api._library = endless
"""
"""Has a server compute without end what it is asked for."""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_closing_waits_for_no_computation(home: Path, how: signal.Signals) -> None:
    many = 40  # more than there are threads

    def asks(server: Served) -> bool:
        with server.client() as client:
            try:
                return client.get("/api/library").status_code == 200
            except httpx.TransportError:
                return False

    with served(home, "Blue", before=_COMPUTES) as server, ThreadPoolExecutor(many) as pool:
        asking = [pool.submit(asks, server) for _ in range(many)]
        while not (home / "begun").exists():
            time.sleep(0.05)
        with server.client() as client:
            assert client.get("/api/room").status_code == 200
        said = server.end(how)  # which would wait for ever, and has a limit
    assert not any(one.result() for one in asking)
    assert "Traceback" not in said
    assert said.endswith("The page is closed.\n") or how == signal.SIGTERM
