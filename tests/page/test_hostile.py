"""Whoever means harm gets nowhere, and nobody else notices: on loopback, for a few seconds."""

from __future__ import annotations

import asyncio
import contextlib
import json
import random
import re
import socket
import sys
import time
from collections.abc import Iterator
from typing import Any

import pytest
import websockets

from coach.page.room.door import MOST_STUDENTS
from coach.page.server.limits import MESSAGE_BYTES
from tests.page.people import JUDGED_S, PATIENT_S, Instructor, Person, Phone, Served

GUESSES = 200
BOTHERED = 60


def ran(story: Any) -> None:
    asyncio.run(asyncio.wait_for(story, 3 * PATIENT_S))


def works(server: Served) -> None:
    """A student still comes in, and the instructor sees them."""
    name = f"S{time.perf_counter_ns() % 10**9}"

    async def story() -> None:
        async with (
            Instructor(server.host, server.key) as instructor,
            Phone(server.host, name, server.code) as phone,
        ):
            await phone.joined()
            while name not in [
                one["name"] for one in (await instructor.until("roster"))["students"]
            ]:
                await asyncio.sleep(0.05)

    ran(story())
    assert server.process.poll() is None


def asked(server: Served, head: str, body: str = "") -> str:
    """The answer to a request written by hand."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=PATIENT_S) as connection:
        connection.sendall(f"{head}\r\nConnection: close\r\n\r\n{body}".encode())
        answer = b""
        while part := connection.recv(65536):
            answer += part
    return answer.decode("utf-8", "replace")


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:1", "127.0.0.1:80@evil"])
@pytest.mark.parametrize("path", ["/", "/room", "/api/library", "/static/join.js", "/ws/join"])
def test_another_hosts_name_is_answered_with_nothing(
    open_room: Served, host: str, path: str
) -> None:
    answer = asked(
        open_room, f"GET {path} HTTP/1.1\r\nHost: {host}\r\nX-Coach-Key: {open_room.key}"
    )
    assert answer.startswith("HTTP/1.1 421 ")
    assert len(answer.partition("\r\n\r\n")[2]) < 100


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "", "https://{host}", "{host}"])
def test_another_pages_request_is_refused(open_room: Served, origin: str) -> None:
    said = f"\r\nOrigin: {origin.format(host=open_room.host)}" if origin else ""
    head = (
        f"POST /api/brief HTTP/1.1\r\nHost: {open_room.host}\r\nX-Coach-Key: {open_room.key}{said}"
    )
    body = '{"maneuver": "lazy-eight"}'
    answer = asked(open_room, f"{head}\r\nContent-Length: {len(body)}", body)
    assert answer.startswith("HTTP/1.1 403 ")

    async def story() -> None:
        own = websockets.Origin(origin.format(host=open_room.host)) if origin else None
        for path in ("join", "lead"):
            with pytest.raises(websockets.InvalidStatus, match="403"):
                url = f"ws://{open_room.host}/ws/{path}"
                await websockets.connect(url, origin=own, open_timeout=PATIENT_S)

    asyncio.run(story())


def test_nothing_under_api_is_told_without_the_key(open_room: Served) -> None:
    with open_room.client() as client:
        for path in (
            "library",
            "room",
            "room/qr.svg",
            "room/picture.svg",
            "logbook",
            "runs/1",
            "next",
        ):
            for key in ("", "x", open_room.key[:-1], open_room.key + "x", open_room.key.swapcase()):
                answer = client.get(f"/api/{path}", headers={"X-Coach-Key": key})
                assert answer.status_code == 403, path
                assert open_room.code not in answer.text and open_room.key not in answer.text


def test_no_file_beside_the_pages_own_is_served(open_room: Served) -> None:
    paths = "../app.py", "%2e%2e/app.py", "..%2fapp.py", "..\\app.py", "/etc/passwd", "", "%00"
    for path in (f"/static/{path}" for path in paths):
        answer = asked(open_room, f"GET {path} HTTP/1.1\r\nHost: {open_room.host}")
        assert answer.split(" ")[1] in ("404", "405"), answer[:100]


def test_every_answer_has_the_strict_policy_and_says_nothing_of_the_server(
    open_room: Served,
) -> None:
    with open_room.client() as client:
        for path in ("/", "/room", "/api/library", "/static/nothing.js", "/nowhere"):
            headers = client.get(path).headers
            assert headers["content-security-policy"].startswith("default-src 'none'; ")
            assert "unsafe" not in headers["content-security-policy"]
            assert headers["x-content-type-options"] == "nosniff"
            assert headers["referrer-policy"] == "no-referrer"
            assert "server" not in headers
            stays = "no-cache" if path.startswith("/static/") else "no-store"
            assert headers["cache-control"] == stays


def test_nobody_leads_without_the_key(open_room: Served) -> None:
    async def story() -> None:
        for key in ("x", open_room.code, open_room.key[:-1], open_room.key.lower()):
            async with Instructor(open_room.host, key) as other:
                assert "does not lead" in (await other.until("refused"))["why"]
                while other.closed is None:
                    await asyncio.sleep(0.01)

    asyncio.run(story())
    works(open_room)


def test_a_name_full_of_markup_goes_through_as_letters_and_breaks_no_picture(
    blue: Served,
) -> None:
    name = '<script>"&$x_{2}$</scrip'

    async def story(server: Served) -> str:
        async with (
            Instructor(server.host, server.key) as instructor,
            Phone(server.host, name, server.code) as phone,
        ):
            assert (await phone.joined())["name"] == name
            await instructor.lists([(name, 0)])
            await instructor.ready()
            run = (await instructor.started())["run"]
            await instructor.heard(run, JUDGED_S)
            await phone.tap()
            await phone.until("tapped", number=1)
            await instructor.control("show")
            await instructor.control("stop")
            shown = await instructor.until("room", state="finished", names_shown=True)
            with server.client() as client:
                picture = client.get(shown["picture"])
                token = (await phone.until("welcome"))["token"]
                own = client.get("/own/picture.svg", headers={"X-Coach-Key": token})
                assert picture.status_code == own.status_code == 200
                return picture.text

    drawn = asyncio.run(story(blue))
    assert "<script" not in drawn


def test_codes_tried_without_end_let_nobody_in(blue: Served) -> None:
    answers: list[str] = []

    async def trying(server: Served) -> None:
        while len(answers) < GUESSES:
            guess = f"{random.randrange(10**6):06}"
            if guess == server.code:
                continue
            async with Phone(server.host, "Eve", guess) as eve:
                answers.append((await eve.until("refused"))["why"])

    async def told_to_wait(server: Served) -> None:
        """The same address for all on loopback: who tried has to wait, with the right one too."""
        while True:
            asked_s = time.perf_counter()
            async with Phone(server.host, "Eve", "x") as eve:
                why = (await eve.until("refused"))["why"]
            waits = re.search(r"wait (\d+) sec", why)
            async with Phone(server.host, f"Bo {asked_s:.0f}", server.code) as bo:
                told = await bo.until_any("refused", "welcome")
            # A second is told that has only begun. Whose answer came later might be let in again.
            if waits and time.perf_counter() < asked_s + int(waits[1]) - 1:
                assert told["type"] == "refused" and "wait" in told["why"]
                return

    async def story(server: Served) -> float:
        since = time.perf_counter()
        async with Phone(server.host, "Ada", server.code) as ada:
            token = (await ada.joined())["token"]
            await asyncio.gather(*(trying(server) for _ in range(8)))
            took_s = time.perf_counter() - since
            await ada.tap()
            await ada.until("tapped", number=1)
        await told_to_wait(server)
        if sys.platform == "linux":  # where all of 127.0.0.0/8 is this machine
            there = ("127.0.0.2", 0)
            async with Phone(server.host, "Cy", server.code, local=there) as cy:
                await cy.joined()
        async with Phone(server.host, token=token) as ada:
            await ada.joined()
        return took_s

    took_s = asyncio.run(story(blue))
    assert (
        sum("not this room's code" in why for why in answers) <= 65 + took_s / 10 + took_s / 600 + 1
    )


def _hostile(chance: random.Random, code: str) -> str | bytes:
    numbers: list[object] = [0, -1, 1, 2**70, 1e308, -1e9, 1e9, None, True, "1", [], {}]
    kinds = [
        "join",
        "tap",
        "held",
        "hold",
        "sensing",
        "answer",
        "lead",
        "choose",
        "control",
        "heard",
        "",
        None,
        7,
    ]
    fields = ["type", "name", "code", "token", "number", "at_s", "received_s", "answered_s", "key"]
    fields += [
        "chosen",
        "do",
        "student",
        "run",
        "position_s",
        "playing",
        "__class__",
        "sounding",
        "back",
        "quaternions",
        "angles",
        "phone",
        "what",
    ]
    message: dict[str, Any] = {"type": chance.choice(kinds)}
    for field in chance.sample(fields, chance.randrange(6)):
        message[field] = chance.choice([*numbers, "\0" * 30, "x" * 300, "💺", code, "../../x"])
    text = json.dumps(message)
    made: list[str | bytes] = [
        text,
        text[: chance.randrange(len(text))],
        text.replace("null", "NaN"),
        text.encode(),
        chance.randbytes(50),
        "[" * 2000,
        '{"type":"join","name":"\\ud800","code":"' + code + '"}',
        "x" * (MESSAGE_BYTES - 1),
        "x" * (MESSAGE_BYTES + 1),
    ]
    return chance.choice(made)


def test_messages_made_up_at_random_break_nothing(blue: Served) -> None:
    chance = random.Random(20)
    bothered = sent = 0

    async def bothering(server: Served) -> None:
        nonlocal bothered, sent
        while bothered < BOTHERED:
            bothered += 1
            first: dict[str, Any] = chance.choice(
                [
                    {"type": "join", "name": f"E{chance.randrange(10**9)}", "code": server.code},
                    {"type": "lead", "key": "x"},
                    {"type": "tap", "number": 1, "at_s": 0.0},
                ]
            )
            path = chance.choice(["/ws/join", "/ws/lead"])
            with contextlib.suppress(websockets.WebSocketException, OSError):
                async with Person(server.host, path, first) as eve:
                    for _ in range(chance.randrange(1, 30)):
                        await eve.socket.send(_hostile(chance, server.code))
                        sent += 1
                        await asyncio.sleep(0)

    async def story(server: Served) -> None:
        async with Phone(server.host, "Ada", server.code) as ada:
            await ada.joined()
            await asyncio.gather(*(bothering(server) for _ in range(6)))
            await ada.tap()
            assert (await ada.until("tapped", number=1))["time_s"] is None

    asyncio.run(story(blue))
    assert sent > BOTHERED
    works(blue)
    assert "Traceback" not in blue.end()


def test_a_phone_that_sends_without_end_is_closed_and_the_others_are_not(open_room: Served) -> None:
    async def story() -> None:
        async with (
            Phone(open_room.host, "Gus", open_room.code) as gus,
            Phone(open_room.host, "Hal", open_room.code) as hal,
        ):
            await asyncio.gather(gus.joined(), hal.joined())
            with contextlib.suppress(websockets.ConnectionClosed):
                while gus.closed is None:
                    await gus.tap()
                    await asyncio.sleep(0)  # what it is told comes in meanwhile
            await gus.until_closed()
            assert gus.closed == 1008
            number = await hal.tap()
            await hal.until("tapped", number=number)

    ran(story())


def test_a_message_that_is_too_large_closes_the_connection(open_room: Served) -> None:
    async def story() -> None:
        async with Phone(open_room.host, "Ivo", open_room.code) as ivo:
            await ivo.joined()
            await ivo.socket.send("x" * (MESSAGE_BYTES + 1))
            while ivo.closed is None:
                await asyncio.sleep(0.01)
            assert ivo.closed == 1009

    ran(story())


def test_a_message_in_pieces_without_end_is_cut_off_and_none_is_packed(open_room: Served) -> None:
    def piece() -> Iterator[str]:
        while True:
            yield "x" * 500

    async def story() -> None:
        host = open_room.host
        url, own = f"ws://{host}/ws/join", websockets.Origin(f"http://{host}")
        async with websockets.connect(
            url, origin=own, compression="deflate", open_timeout=PATIENT_S
        ) as socket:
            # A small packed message could grow to gigabytes.
            assert socket.response is not None
            assert "Sec-WebSocket-Extensions" not in socket.response.headers
            with pytest.raises(websockets.ConnectionClosed):
                await socket.send(piece())
                await socket.recv()

    ran(story())
    works(open_room)


def test_many_who_come_and_never_say_who_they_are_keep_no_student_out(open_room: Served) -> None:
    async def story() -> None:
        url, own = f"ws://{open_room.host}/ws/join", f"http://{open_room.host}"
        async with contextlib.AsyncExitStack() as stack:
            for _ in range(MOST_STUDENTS + 20):
                socket = websockets.connect(
                    url, origin=websockets.Origin(own), open_timeout=PATIENT_S
                )
                await stack.enter_async_context(socket)
            async with Phone(open_room.host, "Ida", open_room.code) as ida:
                await ida.joined()

    ran(story())


def test_a_request_that_is_too_large_or_means_nothing_is_told_so(open_room: Served) -> None:
    with open_room.client() as client:
        large = client.post("/api/brief", content="x" * (MESSAGE_BYTES + 1))
        assert (large.status_code, "bytes at most" in large.text) == (400, True)
        for content in ("", "null", "[]", '{"maneuver": 3}', '{"maneuver": "x", "more": 1}'):
            answer = client.post("/api/brief", content=content)
            assert answer.status_code == 400 and answer.json()["problem"].endswith(".")
