"""A room for phones: another machine joins by the network, and leads by no means."""

from __future__ import annotations

import asyncio
import hashlib
import re
import socket
import ssl
import textwrap
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import httpx
import pytest
import segno
import websockets

from coach.commands.page import serve
from coach.page.server import reach
from coach.page.server.reach import Way, addresses, likeliest
from coach.problems import Problem
from tests.page.networks import Machine, two_machines
from tests.page.people import JUDGED_S, PATIENT_S, Instructor, Phone, Served, served

T = TypeVar("T")


@dataclass
class Classroom:
    """A room, and how to do something on its own machine and on a phone's."""

    server: Served
    instructors: Machine | None = None
    phones: Machine | None = None

    def here(self, what: Callable[[], T]) -> T:
        return self.instructors.does(what) if self.instructors else what()

    def there(self, what: Callable[[], T]) -> T:
        return self.phones.does(what) if self.phones else what()


@pytest.fixture(scope="module")
def classroom(new_home: Callable[[], Path]) -> Iterator[Classroom]:
    """On two machines where that is permitted, else both on this one's own address."""
    home = new_home()
    with ExitStack() as stack:
        try:
            one, other = stack.enter_context(two_machines())
        except OSError:
            try:
                addresses()
            except Problem as problem:
                pytest.skip(str(problem))
            server = stack.enter_context(served(home, "Lan", lan=True))
            yield Classroom(server)
        else:
            server = one.does(lambda: stack.enter_context(served(home, "Lan", lan=True)))
            yield Classroom(server, one, other)


def get(host: str, path: str = "/", **headers: str) -> httpx.Response:
    with httpx.Client(trust_env=False, timeout=PATIENT_S) as client:
        return client.get(f"http://{host}{path}", headers=headers)


def secured(server: Served, path: str = "/", **headers: str) -> httpx.Response:
    """As a phone gets it that has accepted the certificate."""
    with httpx.Client(trust_env=False, timeout=PATIENT_S, verify=server.trusting()) as client:
        return client.get(f"https://{server.secure}{path}", headers=headers)


def test_what_is_printed_is_all_that_a_newcomer_needs(classroom: Classroom) -> None:
    server = classroom.server
    first, phones, *others = server.said.splitlines()
    assert first == f"The coach's page: http://127.0.0.1:{server.port}/room#{server.key}"
    assert f"join at https://{server.secure} with the code {server.code}" in phones
    assert server.reach.endswith(f":{server.port}") and not server.reach.startswith("127.")
    own, port = server.secure.split(":")
    assert own == server.reach.partition(":")[0]
    ports = f"let ports {server.port} and {port} in through this machine's firewall"
    assert any(ports in one for one in others)
    assert others[-1] == "Ctrl-C closes it."
    if classroom.phones:  # the bridge for containers is named, and not offered
        assert server.reach == f"10.77.0.1:{server.port}"
        assert any("172.17.0.1 as well" in one for one in others)


def test_the_fingerprint_that_is_printed_is_that_of_the_certificate_that_is_shown(
    classroom: Classroom,
) -> None:
    server = classroom.server
    host, port = server.secure.split(":")
    shown = classroom.there(
        lambda: ssl.get_server_certificate((host, int(port)), timeout=PATIENT_S)
    )
    digits = hashlib.sha256(ssl.PEM_cert_to_DER_cert(shown)).hexdigest().upper()
    assert ":".join(textwrap.wrap(digits, 2)) in server.said


@pytest.mark.parametrize("secure", [False, True])
def test_a_student_joins_by_the_network_and_taps(classroom: Classroom, secure: bool) -> None:
    server = classroom.server
    name = "Ada" if secure else "Bo"
    where = server.secure if secure else server.reach

    async def led() -> None:
        async with Instructor(server.host, server.key) as instructor:
            await instructor.ready()
            while not (await instructor.until("roster"))["students"]:
                await asyncio.sleep(0.05)
            run = (await instructor.started())["run"]
            await instructor.heard(run, JUDGED_S)
            await instructor.lists([(name, 1)])
            await instructor.control("stop")
            await instructor.until("room", state="finished")

    async def flown() -> list[dict[str, Any]]:
        trusting = server.trusting() if secure else None
        async with Phone(where, name, server.code, secure=trusting) as ada:
            await ada.joined()
            await ada.until("room", state="running")
            number, time_s = 0, None
            while time_s is None:  # until the loudspeaker has told that it plays
                number = await ada.tap()
                time_s = (await ada.until("tapped", number=number))["time_s"]
                await asyncio.sleep(0.05)  # who sends without end is closed
            await ada.until("own")
            return ada.told

    with ThreadPoolExecutor(2) as both:
        leading = both.submit(
            classroom.here, lambda: asyncio.run(asyncio.wait_for(led(), 3 * PATIENT_S))
        )
        flying = both.submit(
            classroom.there, lambda: asyncio.run(asyncio.wait_for(flown(), 3 * PATIENT_S))
        )
        leading.result()
        told = flying.result()
    assert server.key not in str(told)


def test_what_a_phone_can_get_holds_no_secret(classroom: Classroom) -> None:
    server = classroom.server

    def looked() -> list[httpx.Response]:
        tapping = ("", "join", "static/join.js", "static/room.js", "secure", "accept.svg")
        return [
            *(get(server.reach, f"/{file}") for file in tapping),
            *(secured(server, f"/{file}") for file in (*tapping, "room", "alone")),
        ]

    for answer in classroom.there(looked):
        assert answer.status_code == 200
        everything = answer.text + str(answer.headers)
        assert server.key not in everything and server.code not in everything
    refused = classroom.there(lambda: secured(server, "/api/room"))
    assert refused.status_code == 403 and server.code not in refused.text

    async def led() -> dict[str, Any]:
        async with Instructor(server.secure, server.code, secure=server.trusting()) as nobody:
            return await nobody.until("refused")

    assert "does not lead" in classroom.there(lambda: asyncio.run(led()))["why"]


def test_what_can_be_read_on_its_way_is_tapping_alone(classroom: Classroom) -> None:
    server = classroom.server
    keyed = {"X-Coach-Key": server.key}
    for path in ("/room", "/alone", "/api/room", "/api/library", "/api/logbook", "/hand"):
        refused = classroom.there(partial(get, server.reach, path, **keyed))
        assert refused.status_code == 403 and "not answered here" in refused.text, path
    led = classroom.there(partial(secured, server, "/api/room", **keyed))
    assert led.status_code == 200 and led.json()["code"] == server.code

    async def tried() -> None:
        async with Instructor(server.reach, server.key):
            pass

    with pytest.raises(websockets.InvalidStatus, match="403"):
        classroom.there(lambda: asyncio.run(tried()))


def test_a_phone_that_came_to_tap_is_told_where_it_is_secure(classroom: Classroom) -> None:
    server = classroom.server
    told = classroom.there(lambda: get(server.reach, "/secure")).json()
    assert told["link"] == f"https://{server.secure}/join"
    assert told["accept"]["fingerprint"] in server.said
    drawn = classroom.there(lambda: get(server.reach, told["accept"]["picture"]))
    assert drawn.headers["content-type"] == "image/svg+xml"


def test_each_door_takes_its_own_scheme_alone(classroom: Classroom) -> None:
    server = classroom.server

    def crossed() -> None:
        with pytest.raises(httpx.TransportError):  # no answer in plain letters where TLS is spoken
            get(server.secure)
        with (
            httpx.Client(verify=False, trust_env=False, timeout=PATIENT_S) as client,
            pytest.raises(httpx.TransportError),
        ):
            client.get(f"https://{server.reach}/")

    classroom.there(crossed)
    for scheme, host, status in (
        ("http", server.secure, 403),
        ("https", server.reach, 403),
        ("https", server.secure, 400),  # let through, and no ticket
    ):
        origin = f"{scheme}://{host}"

        def posted(origin: str = origin) -> int:
            trust = server.trusting()
            with httpx.Client(verify=trust, trust_env=False, timeout=PATIENT_S) as client:
                shown = {"ticket": "none"}
                headers = {"Origin": origin}
                url = f"https://{server.secure}/key"
                return client.post(url, json=shown, headers=headers).status_code

        assert classroom.there(posted) == status, origin

        async def connected(origin: str = origin) -> None:
            own = websockets.Origin(origin)
            url, trust = f"wss://{server.secure}/ws/join", server.trusting()
            async with websockets.connect(url, ssl=trust, origin=own):
                pass

        if status == 403:
            with pytest.raises(websockets.InvalidStatus, match="403"):
                classroom.there(lambda: asyncio.run(connected()))
        else:
            classroom.there(lambda: asyncio.run(connected()))


def test_the_policy_lets_a_secured_page_talk_by_secured_sockets_alone(classroom: Classroom) -> None:
    server = classroom.server
    headers = classroom.there(lambda: secured(server, "/join")).headers
    connects = f"connect-src 'self' wss://{server.secure}; "
    assert connects in headers["content-security-policy"]
    assert "ws://" not in headers["content-security-policy"]
    assert headers["cross-origin-opener-policy"] == "same-origin"


def test_the_picture_to_join_by_holds_the_address_and_the_code(classroom: Classroom) -> None:
    server = classroom.server
    keyed = {"X-Coach-Key": server.key}
    about = classroom.here(lambda: get(server.host, "/api/room", **keyed)).json()
    assert (about["address"], about["lan"]) == (f"https://{server.secure}", True)
    assert about["tapping"] == f"http://{server.reach}"
    assert about["link"] == f"https://{server.secure}/join#{server.code}"
    drawn = classroom.here(lambda: get(server.host, "/api/room/qr.svg", **keyed)).text
    modules = re.findall(r' d="(.{200,})"', segno.make_qr(about["link"]).svg_inline())
    assert len(modules) == 1 and modules[0] in drawn


def test_the_machine_is_known_by_its_addresses_and_its_own_name_alone(classroom: Classroom) -> None:
    server = classroom.server
    port = f":{server.port}"
    named = f"{socket.gethostname()}.local{port}"
    for host, status in (
        (server.reach, 200),
        (named, 200),
        (named.upper(), 200),
        (f"127.0.0.1{port}", 421),
        (f"192.0.2.99{port}", 421),
        (f"evil.example{port}", 421),
        (server.reach.partition(":")[0], 421),
    ):
        answer = classroom.there(partial(get, server.reach, Host=host))
        assert answer.status_code == status, host
        secure = host.replace(port, f":{server.secure.rpartition(':')[2]}")
        answer = classroom.there(partial(secured, server, Host=secure))
        assert answer.status_code == status, secure


def test_the_likeliest_address_is_the_one_in_the_room() -> None:
    wire = Way("192.168.1.5", "3c:52:00:00:00:01")
    radio = Way("10.1.2.3", "70:1a:00:00:00:02", default=True)
    containers = Way("172.17.0.1", "02:42:00:00:00:03")
    tunnel = Way("10.8.0.2", default=True)
    nobodys = Way("169.254.3.4", "3c:52:00:00:00:05")
    for ways, first in (
        ([wire, containers, radio], radio),
        ([containers, wire], wire),
        ([tunnel, containers, wire], wire),
        ([nobodys, containers], containers),
        ([nobodys, tunnel], nobodys),
        ([Way("10.0.0.9", "DA-A1-19-00-00-06", default=True), wire], Way("10.0.0.9")),
    ):
        assert likeliest(ways)[0] == first.address
        assert sorted(likeliest(ways)) == sorted(way.address for way in ways)
    assert likeliest([]) == []


def test_an_address_that_is_not_this_machines_is_a_sentence(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reach, "_ways", lambda: [Way("10.1.2.3"), Way("172.17.0.1")])
    assert addresses("172.17.0.1") == ["172.17.0.1", "10.1.2.3"]
    with pytest.raises(Problem, match=r"10.1.2.4 is no address of this machine; did you mean 10"):
        serve(lan=True, address="10.1.2.4", open_browser=False, room="Blue")


def test_a_machine_in_no_network_is_a_sentence(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reach, "_ways", list)
    with pytest.raises(Problem, match=r"no IPv4 address .* join a network"):
        serve(lan=True, open_browser=False, room="Blue")
