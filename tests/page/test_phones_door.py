"""The phones' door: HTTPS within a server that runs, opened when somebody asks for it."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
import sys
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
import websockets
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket
from uvicorn.server import ServerState

from coach.page.server import connections, reach, secured
from coach.page.server.certificate import certificate
from coach.page.server.connections import Connection, nobody_yet
from coach.page.server.guard import Guard
from coach.page.server.phones_door import Door, Entrance, apart
from coach.page.server.reach import HERE, Way
from coach.page.server.secured import Secured
from coach.page.server.serving import Server, listening
from coach.problems import Problem
from tests.page.people import PATIENT_S

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="Only Linux has all of 127.0.0.0/8 here."
)

KEY = "key"


class Shown:
    """A small application, and how often it was begun and ended."""

    def __init__(self, door: Door) -> None:
        self.door = door
        self.begun = self.ended = self.left = 0
        routes = [
            *(Route(path, self.answer) for path in ("/", "/hand", "/static/x", "/room", "/api/x")),
            Route("/api/open", self.open, methods=["POST"]),
            WebSocketRoute("/ws/hand", self.socket),
            WebSocketRoute("/ws/lead", self.socket),
        ]
        guard = Middleware(Guard, names=["localhost"], key=KEY)
        self.app = Starlette(routes=routes, middleware=[guard], lifespan=self.lasting)

    def leave(self) -> None:
        assert threading.current_thread().name == "phones" and not self.ended
        self.left += 1

    @contextlib.asynccontextmanager
    async def lasting(self, _: Starlette) -> AsyncIterator[dict[str, Any]]:
        self.begun += 1
        yield nobody_yet()
        self.ended += 1

    async def answer(self, request: Request) -> PlainTextResponse:
        return PlainTextResponse(request.url.scheme)

    async def open(self, _: Request) -> JSONResponse:
        entrances = await asyncio.gather(self.door.open(), self.door.open())
        assert entrances[0] == entrances[1]
        return JSONResponse({"port": entrances[0].port, "reach": entrances[0].reach})

    async def socket(self, socket: WebSocket) -> None:
        await socket.accept()
        await socket.send_text(socket.url.scheme)
        await socket.close()


@contextlib.contextmanager
def running(shown: Shown) -> Iterator[str]:
    """The application at a plain address of this machine's own; that."""
    listener = listening(0, 0, HERE)
    server = Server(shown.app)

    async def served() -> None:
        serving = asyncio.create_task(server.serve(sockets=[listener]))
        assert await server.until_started(serving)
        await shown.door.leads_to(server)
        started.set()
        await serving

    started = threading.Event()
    thread = threading.Thread(target=lambda: asyncio.run(served()))
    thread.start()
    started.wait(PATIENT_S)
    try:
        yield f"{HERE}:{listener.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(PATIENT_S)
        assert not thread.is_alive()


@pytest.fixture
def somewhere(home: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Puts this machine into networks by those addresses."""

    def put(*addresses: str) -> None:
        monkeypatch.setattr(reach, "_ways", lambda: [Way(one) for one in addresses])

    put("127.0.0.2")
    return put


def trusting(home: Path) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=home / "certificate.pem")


def asked(url: str, home: Path, **headers: str) -> httpx.Response:
    with httpx.Client(verify=trusting(home), trust_env=False, timeout=PATIENT_S) as client:
        return client.get(url, headers=headers)


def opened(host: str) -> int:
    headers = {"X-Coach-Key": KEY, "Origin": f"http://{host}"}
    answer = httpx.post(f"http://{host}/api/open", headers=headers, timeout=PATIENT_S)
    assert answer.status_code == 200
    port: int = answer.json()["port"]
    return port


@pytest.mark.usefixtures("somewhere")
def test_it_opens_within_a_server_that_runs_and_the_application_begins_once(home: Path) -> None:
    shown = Shown(Door(usual=0))
    with running(shown) as host:
        port = opened(host)
        assert opened(host) == port
        assert asked(f"https://{HERE}:{port}/hand", home).text == "https"
        assert httpx.get(f"http://{host}/room", timeout=PATIENT_S).text == "http"
        assert (shown.begun, shown.ended) == (1, 0)
    assert (shown.begun, shown.ended) == (1, 1)
    with socket.create_server((HERE, port)):  # it is free again
        pass


@pytest.mark.usefixtures("somewhere")
def test_it_answers_what_a_phone_in_the_hand_needs_and_nothing_else(home: Path) -> None:
    async def said(url: str, path: str) -> str:
        origin = websockets.Origin(f"https://{url}")
        async with websockets.connect(
            f"wss://{url}{path}", ssl=trusting(home), origin=origin
        ) as one:
            return str(await one.recv())

    with running(Shown(Door(usual=0))) as host:
        url = f"{HERE}:{opened(host)}"
        for path in ("/", "/hand", "/static/x"):
            assert asked(f"https://{url}{path}", home).status_code == 200
        for path in ("/room", "/api/x", "/api/open", "/nowhere", "/statics", "/hand/x"):
            refused = asked(f"https://{url}{path}", home, **{"X-Coach-Key": KEY})
            assert refused.status_code == 403, path
        assert asyncio.run(said(url, "/ws/hand")) == "wss"
        with pytest.raises(websockets.InvalidStatus, match="403"):
            asyncio.run(said(url, "/ws/lead"))


@pytest.mark.usefixtures("somewhere")
def test_who_does_not_trust_the_certificate_gets_nothing(home: Path) -> None:
    with running(Shown(Door(usual=0))) as host:
        port = opened(host)
        with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
            httpx.get(f"https://{HERE}:{port}/hand", trust_env=False, timeout=PATIENT_S)
        with socket.create_connection((HERE, port), timeout=PATIENT_S) as plain:
            plain.sendall(b"GET /hand HTTP/1.1\r\nHost: x\r\n\r\n")
            assert b"HTTP" not in plain.recv(1000)
        assert asked(f"https://{HERE}:{port}/hand", home).status_code == 200


def test_a_machine_in_no_network_is_told_so_and_the_page_goes_on(
    home: Path, somewhere: Callable[..., None]
) -> None:
    somewhere()
    door = Door(usual=0)
    shown = Shown(door)
    with running(shown) as host:
        with pytest.raises(Problem, match=r"no IPv4 address .* join a network"):
            door.bound()
        assert not (home / "certificate.pem").exists()
        assert httpx.get(f"http://{host}/room", timeout=PATIENT_S).status_code == 200
        somewhere("127.0.0.3")  # now it has joined one
        assert asked(f"https://127.0.0.3:{opened(host)}/hand", home).status_code == 200


def test_in_another_network_the_door_that_is_open_shows_a_certificate_that_is_good_there(
    home: Path, somewhere: Callable[..., None]
) -> None:
    with running(Shown(Door(usual=0))) as host:
        port = opened(host)
        assert asked(f"https://127.0.0.2:{port}/hand", home).status_code == 200
        with pytest.raises(httpx.ConnectError, match="mismatch"):
            asked(f"https://127.0.0.3:{port}/hand", home)
        somewhere("127.0.0.3")
        assert opened(host) == port
        for address in ("127.0.0.2", "127.0.0.3"):
            assert asked(f"https://{address}:{port}/hand", home).status_code == 200


@pytest.mark.usefixtures("somewhere")
def test_a_port_that_another_program_has_is_left_to_it(home: Path) -> None:
    with socket.create_server(("0.0.0.0", 0)) as other:
        taken = other.getsockname()[1]
        assert Door(usual=taken).bound().port != taken


@pytest.mark.usefixtures("somewhere")
def test_served_apart_it_ends_with_its_block_whatever_hangs_on_it(home: Path) -> None:
    shown = Shown(Door(usual=0))
    with contextlib.ExitStack() as stack:
        with apart(shown.app, shown.door, shown.leave) as entrance:
            assert entrance.link("hand", "123") == f"https://127.0.0.2:{entrance.port}/hand#123"
            assert asked(entrance.link("hand"), home).text == "https"
            waits = stack.enter_context(silent(entrance))
        assert is_gone(waits)
    assert (shown.begun, shown.left, shown.ended) == (1, 1, 1)
    assert not [one for one in threading.enumerate() if one.name == "phones"]


def is_gone(one: socket.socket) -> bool:
    """Once the other side has closed it."""
    one.settimeout(PATIENT_S)
    try:
        return one.recv(1) == b""
    except ConnectionError:
        return True


def stays(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(1) != b""
    except BlockingIOError:
        return True


def silent(entrance: Entrance) -> socket.socket:
    return socket.create_connection(
        ("127.0.0.2", entrance.port), PATIENT_S, source_address=("127.0.0.5", 0)
    )


@pytest.mark.usefixtures("somewhere")
def test_who_is_still_shaking_hands_counts_among_the_strangers(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "MOST_STRANGERS_FROM_ONE", 3)
    shown = Shown(Door(usual=0))
    with apart(shown.app, shown.door, shown.leave) as entrance, contextlib.ExitStack() as stack:
        came = [stack.enter_context(silent(entrance)) for _ in range(4)]
        assert is_gone(came[3])
        assert all(stays(one) for one in came[:3])
        assert asked(f"https://127.0.0.2:{entrance.port}/hand", home).status_code == 200


@pytest.mark.usefixtures("somewhere")
def test_who_never_shakes_hands_is_sent_away(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(secured, "REQUEST_WITHIN_S", 0.3)
    monkeypatch.setattr(connections, "MOST_STRANGERS_FROM_ONE", 3)
    shown = Shown(Door(usual=0))
    with apart(shown.app, shown.door, shown.leave) as entrance, contextlib.ExitStack() as stack:
        for _ in range(2):  # and takes no place any more
            came = [stack.enter_context(silent(entrance)) for _ in range(3)]
            came[0].sendall(b"\x16\x03\x01\x02\x00\x01")  # a hello that is never whole
            assert all(is_gone(one) for one in came)
        monkeypatch.setattr(secured, "REQUEST_WITHIN_S", PATIENT_S)  # a phone may take its time
        assert asked(f"https://127.0.0.2:{entrance.port}/hand", home).status_code == 200


@pytest.mark.usefixtures("somewhere")
@pytest.mark.parametrize("steps", range(8))
def test_closed_at_any_moment_it_leaves_nobody_hanging(home: Path, steps: int) -> None:
    one = certificate([HERE], [])
    listener = listening(0, 0, HERE)
    came = [socket.create_connection(listener.getsockname()) for _ in range(3)]
    config = uvicorn.Config(lambda *_: None, http=Connection, log_level="error")
    config.load()
    state = ServerState()

    async def closed_after_some_steps() -> None:
        door = Secured(listener, one.context, lambda: Connection(config, state, {}))
        for _ in range(steps):
            await asyncio.sleep(0)
        door.close()
        await asyncio.wait_for(door.wait_closed(), PATIENT_S)

    asyncio.run(closed_after_some_steps())
    for each in came:
        with each:
            assert is_gone(each)
    assert not state.connections
