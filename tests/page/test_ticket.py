"""The page opens in the browser, and nobody who lists this machine's processes has its key."""

from __future__ import annotations

import contextlib
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, expect

from coach.page.server import ticket
from coach.page.server.ticket import GOOD_S, Ticket, owner
from coach.problems import Problem
from tests.page.browsing import fresh
from tests.page.people import PATIENT_S, own_port

HERE, THERE = ("127.0.0.1", 50000), ("127.0.0.1", 8080)

SERVE = "from coach.commands.page import serve; serve({port}, room='Blue' if {room} else None)"

SHOWN = """
import json, os, socket, sys
user, port, shown = sys.argv[1:]
asked = json.dumps({"ticket": shown})
"".encode("idna")  # what it needs, while it may read Python's own files
os.setgid(int(user)); os.setuid(int(user))
with socket.create_connection(("127.0.0.1", int(port))) as page:
    page.sendall(
        f"POST /key HTTP/1.1\\r\\nHost: 127.0.0.1:{port}\\r\\nOrigin: http://127.0.0.1:{port}\\r\\n"
        f"Content-Length: {len(asked)}\\r\\nConnection: close\\r\\n\\r\\n{asked}".encode()
    )
    while part := page.recv(10_000):
        print(part.decode())
"""


@pytest.fixture
def anybodys(monkeypatch: pytest.MonkeyPatch) -> None:
    """The system does not tell who asks."""
    monkeypatch.setattr(ticket, "_TABLES", ())


@pytest.mark.usefixtures("anybodys")
def test_a_ticket_is_good_once_and_for_a_minute() -> None:
    now_s = 0.0
    one = Ticket("key", lambda: now_s)
    for wrong in ("", "x", "é"):
        with pytest.raises(
            Problem, match="leads nowhere any more: take the address that the coach"
        ):
            one.take(wrong, HERE, THERE)
    written = one.write()
    assert one.take(written, HERE, THERE) == "key"
    with pytest.raises(Problem, match="used already, and is good once: take the address"):
        one.take(written, HERE, THERE)
    late = one.write()
    assert late != written
    with pytest.raises(Problem, match="leads nowhere any more"):
        one.take(written, HERE, THERE)
    now_s = GOOD_S + 1.0
    with pytest.raises(Problem, match="good for 60 seconds: take the address"):
        one.take(late, HERE, THERE)


def test_whose_connection_it_is_stands_in_the_systems_table() -> None:
    table = """\
   0: 0100007F:1F90 00000000:0000 0A 00000000:00000000 00:00000000 00000000     7        0 11 1
   1: 0100007F:1F90 0100007F:C350 01 00000000:00000000 00:00000000 00000000     7        0 12 1
   2: 0100007F:C350 0100007F:1F90 01 00000000:00000000 00:00000000 00000000  1000        0 13 1
   3: 0200007F:C350 0100007F:1F90 01 00000000:00000000 00:00000000 00000000  1001        0 14 1
   4: 0000000000000000FFFF00000100007F:C351 0000000000000000FFFF00000100007F:1F90 01 0:0 0:0 0 1002
"""
    if sys.byteorder == "big":
        pytest.skip("The table is of a machine whose numbers begin with their last byte.")
    lines = table.splitlines()
    assert owner(lines, ("127.0.0.1", 50000), THERE) == 1000
    assert owner(lines, ("127.0.0.2", 50000), THERE) == 1001
    assert owner(lines, ("127.0.0.1", 50001), THERE) == 1002
    assert owner(lines, ("127.0.0.1", 50002), THERE) is None
    assert owner(["", "torn"], *(HERE, THERE)) is None


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux tells whose a connection is.")
def test_this_users_own_connection_is_found_and_one_that_nobody_has_is_not() -> None:
    one = Ticket("key")
    with socket.create_server(("127.0.0.1", 0)) as door:
        with socket.create_connection(door.getsockname()) as phone:
            assert one.take(one.write(), phone.getsockname(), phone.getpeername()) == "key"
        with pytest.raises(Problem, match="good for who started the coach: take the address"):
            one.take(one.write(), ("127.0.0.1", 1), door.getsockname())


class Opened:
    """A coach that opens its page with a stand-in for a browser."""

    def __init__(self, home: Path, room: bool, until_listed: int = 0) -> None:
        """Open it; the browser starts until it was seen so often in the list of processes."""
        browser, note, seen = home / "browser", home / "opened", home / "seen"
        browser.write_text(
            f"#!/bin/sh\nfor _ in $(seq 600); do [ -e {seen} ] && break; sleep 0.1; done\n"
            f'echo "$1" > {note}.new\nmv {note}.new {note}\n'
        )
        browser.chmod(0o755)
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE.format(port=own_port(), room=room)],
            env={
                **os.environ,
                "COACH_HOME": str(home),
                "PYTHONUNBUFFERED": "1",
                "BROWSER": str(browser),
            },
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        said = ""
        while "Ctrl-C" not in said:
            said += self.process.stdout.readline()
            assert self.process.poll() is None, said
        found = re.search(r"http://127.0.0.1:(\d+)/\w+#(\S+)", said)
        assert found, said
        self.printed, self.port, self.key = found.group(), found.group(1), found.group(2)
        self.listed: list[str] = []
        until_s = time.monotonic() + PATIENT_S
        while not note.exists() and time.monotonic() < until_s:
            self.listed += _listed(self.port)
            if len(self.listed) >= until_listed:
                seen.touch()
            time.sleep(0.05)
        self.address = note.read_text().strip()
        self.ticket = self.address.partition("#once.")[2]

    def shown(self, origin: str = "") -> httpx.Response:
        """The ticket is shown by this user."""
        url = f"http://127.0.0.1:{self.port}"
        headers = {"Origin": origin or url}
        shown = {"ticket": self.ticket}
        return httpx.post(f"{url}/key", json=shown, headers=headers, timeout=PATIENT_S)


def _listed(port: str) -> list[str]:
    """What anybody on this machine can read of the processes that name a port."""
    found = []
    for file in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = file.read_bytes().replace(b"\0", b" ").decode(errors="replace")
        except OSError:
            continue
        if f":{port}/" in words:
            found.append(words)
    return found


@pytest.fixture
def opens(home: Path) -> Iterator[Callable[..., Opened]]:
    if sys.platform != "linux":
        pytest.skip("Elsewhere processes are listed in other ways.")
    with contextlib.ExitStack() as stack:

        def opened(room: bool, until_listed: int = 0) -> Opened:
            one = Opened(home, room, until_listed)
            stack.callback(one.process.communicate, timeout=PATIENT_S)
            stack.callback(one.process.terminate)
            return one

        yield opened


@pytest.mark.parametrize("room", [False, True], ids=["alone", "room"])
def test_the_key_stands_in_no_list_of_processes_while_the_page_opens(
    opens: Callable[..., Opened], room: bool
) -> None:
    opened = opens(room, until_listed=3)  # who lists the processes sees what it is told
    assert opened.listed and opened.ticket
    assert all(opened.ticket in words and opened.key not in words for words in opened.listed)
    assert opened.key not in opened.address
    assert opened.shown("http://evil.example").status_code == 403
    if os.getuid() == 0:
        for user in (65534, 1000):
            words = [sys.executable, "-c", SHOWN, str(user), opened.port, opened.ticket]
            told = subprocess.run(words, capture_output=True, text=True, check=True).stdout
            assert "good for who started the coach" in told and opened.key not in told
    assert opened.shown().json() == {"key": opened.key}
    again = opened.shown()
    assert again.status_code == 400 and "used already" in again.json()["problem"]
    assert "take the address that the coach printed" in again.json()["problem"]


@pytest.mark.parametrize("room", [False, True], ids=["alone", "room"])
def test_the_page_takes_the_key_for_its_ticket_and_says_so_where_another_had_it(
    opens: Callable[..., Opened], room: bool, browser: Browser
) -> None:
    opened = opens(room)
    page, place = fresh(browser), opened.address.partition("#")[0]
    page.goto(opened.address)
    expect(page).to_have_url(opened.printed)
    expect(page.locator("[name=maneuver]").first).to_be_attached()
    page.reload()
    expect(page.locator("[name=maneuver]").first).to_be_attached()
    late = fresh(browser)
    late.goto(opened.address)
    expect(late.locator("#trouble")).to_contain_text("used already, and is good once: take the")
    late.goto(f"{place}#{opened.key}")
    late.reload()
    expect(late.locator("[name=maneuver]").first).to_be_attached()
