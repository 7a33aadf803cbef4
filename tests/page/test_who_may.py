"""Who may call what: every address and every message, tried by everybody.

A stranger has been told nothing. A student has a token; their second phone has the same one, and
whoever was taken out one that was good before. The instructor has the key in their page's address,
and a phone that is the hand of somebody alone has come by that rehearsal's code.
Each gives what they have wherever something can be given.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import httpx
import pytest
import websockets
from starlette.routing import Mount, Route, WebSocketRoute

from coach.page.alone.messages import FromPage
from coach.page.app import make
from coach.page.hand.messages import FromHand
from coach.page.room.messages import Control, FromInstructor, FromPhone
from coach.page.server.guard import HAND, TAPPING
from coach.page.server.reach import addresses
from coach.problems import Problem
from tests.page.people import CHOSEN, JUDGED_S, PATIENT_S, Instructor, Person, Phone, Served, served

PEOPLE = ("stranger", "student", "second phone", "taken out", "instructor", "hand")

EVERYBODY = (200,) * len(PEOPLE)
PHONES = (400, 200, 200, 400, 400, 400)


def led(status: int) -> tuple[int, ...]:
    """Only with the instructor's key, who then has this answer."""
    return (403, 403, 403, 403, status, 403)


ADDRESSES: dict[str, tuple[int, ...]] = {
    "GET /": EVERYBODY,
    "GET /alone": EVERYBODY,
    "GET /room": EVERYBODY,
    "GET /join": EVERYBODY,
    "GET /hand": EVERYBODY,
    "GET /static": EVERYBODY,
    "GET /secure": EVERYBODY,
    "GET /accept.svg": EVERYBODY,
    "POST /key": (400,) * len(PEOPLE),  # none of these is a ticket
    "GET /api/library": led(200),
    "POST /api/brief": led(200),
    "POST /api/brief.svg": led(200),
    "POST /api/rehearsals": led(200),
    "GET /api/rehearsals/{id}": led(200),
    "GET /api/rehearsals/{id}/brief": led(200),
    "GET /api/rehearsals/{id}/brief.svg": led(200),
    "GET /api/rehearsals/{id}/sound/{piece:int}.wav": led(200),
    "GET /api/rehearsals/{id}/captions.vtt": led(200),
    "POST /api/attempts": led(200),
    "POST /api/attempts/{run}/taps": led(400),  # there is no such attempt
    "POST /api/attempts/{run}/reached": led(400),
    "POST /api/attempts/{run}/end": led(400),
    "GET /api/logbook": led(200),
    "GET /api/runs/{number:int}": led(200),
    "GET /api/runs/{number:int}/picture.svg": led(200),
    "GET /api/next": led(200),
    "POST /api/checkride": led(200),
    "GET /api/room": led(200),
    "POST /api/room": led(200),
    "GET /api/room/qr.svg": led(200),
    "GET /api/room/picture.svg": led(200),
    "GET /own/picture.svg": PHONES,
    "POST /api/hand": led(200),
    "GET /api/hand/qr.svg": led(200),
    "POST /api/hand/leave": led(200),
}

KINDS = (
    *("join", "come", "tap", "held", "hold", "sensing", "answer"),
    *("lead", "watch", "choose", "heard"),
    *(f"control {do}" for do in get_args(Control.model_fields["do"].annotation)),
)
"""Every message there is."""


def taken(*kinds: str, by: tuple[str, ...]) -> dict[str, tuple[str | int | None, ...]]:
    """A row for each of `KINDS`: who comes in is heard in these, and closed by any other."""
    return {
        kind: tuple(
            None if who not in by else "taken" if kind.split()[0] in kinds else 1008
            for who in PEOPLE
        )
        for kind in KINDS
    }


MESSAGES: dict[str, dict[str, tuple[str | int | None, ...]]] = {
    "/ws/join": taken(
        *("join", "tap", "held", "hold", "sensing", "answer"), by=("student", "second phone")
    ),
    "/ws/lead": taken("lead", "answer", "choose", "heard", "control", by=("instructor",)),
    "/ws/hand": taken("come", "held", "hold", "sensing", "answer", by=("hand",)),
    "/ws/watch": taken("watch", "heard", "answer", by=("instructor",)),
}
"""For each of `PEOPLE`: taken, or the code that the connection is closed with; None: not let in."""


@dataclass
class Lesson:
    """A room in which somebody has flown and somebody was taken out.

    Attributes:
        server: it.
        given: what each of `PEOPLE` has to give.
        values: what stands for a part of an address.
    """

    server: Served
    given: dict[str, str]
    values: dict[str, str]


def taught(new_home: Callable[[], Path]) -> Iterator[Lesson]:
    try:
        addresses()
    except Problem as problem:
        pytest.skip(str(problem))
    with served(new_home(), "Blue", lan=True) as server:
        yield asyncio.run(asyncio.wait_for(flown(server), 3 * PATIENT_S))


lesson = pytest.fixture(scope="module", name="lesson")(taught)
"""One for all addresses; no phone may come in as a hand after it."""

talk = pytest.fixture(scope="module", name="talk")(taught)
"""One for all messages, right and wrong, some of which leave it without a picture of the run."""


async def flown(server: Served) -> Lesson:
    async with (
        Instructor(server.host, server.key) as instructor,
        Phone(server.host, "Ada", server.code) as ada,
        Phone(server.host, "Eve", server.code) as eve,
    ):
        tokens = [(await one.joined())["token"] for one in (ada, eve)]
        _, number = await instructor.lists([("Ada", 0), ("Eve", 0)])
        await instructor.control("remove", number)
        await eve.until("refused")
        await instructor.flying(JUDGED_S)
        await ada.tap()
        await instructor.control("stop")
        run = (await ada.until("own"))["debrief"]["run"]["id"]
        rehearsal = (await instructor.until("room", state="finished"))["rehearsal"]
    with server.client() as client:
        code = client.post("/api/hand", json={"student": ""}).json()["code"]
    async with Person(server.host, "/ws/hand", {"type": "come", "code": code}) as hand:
        hands = (await hand.until("welcome"))["token"]
    given = ("made up", tokens[0], tokens[0], tokens[1], server.key, hands)
    return Lesson(
        server,
        dict(zip(PEOPLE, given, strict=True)),
        {"{id}": rehearsal, "{piece:int}": "0", "{number:int}": str(run), "{run}": "none"},
    )


def bodies(rehearsal: str, given: str) -> dict[str, dict[str, Any]]:
    """What is sent along with a POST."""
    return {
        "/key": {"ticket": given},
        "/api/rehearsals": CHOSEN,
        "/api/brief": CHOSEN,
        "/api/brief.svg": CHOSEN,
        "/api/attempts": {"rehearsal": rehearsal, "student": ""},
        "/api/attempts/{run}/taps": {"position_s": 1.0},
        "/api/attempts/{run}/reached": {"position_s": 1.0},
        "/api/attempts/{run}/end": {"position_s": 1.0, "ended": "stopped"},
        "/api/room": {"name": "Blue"},
        "/api/checkride": {"checkride": "private"},
        "/api/hand": {"student": ""},
        "/api/hand/leave": {},
    }


def said(path: str, type: str, do: str = "") -> dict[str, Any]:
    """A message as its model has it, which changes nothing that another cell needs."""
    messages: dict[str, dict[str, Any]] = {
        "join": {"type": "join", "name": "Bo"},
        "come": {"type": "come", "code": "no"},
        "held": {"type": "held", "number": 0, "at_s": []},
        "hold": {"type": "hold", "do": "easy"},
        "sensing": {"type": "sensing", "what": "reads"},
        "watch": {"type": "watch", "key": "x"},
        "answer": {"type": "answer", "number": 0, "received_s": 0.0, "answered_s": 0.0},
        "tap": {"type": "tap", "number": 0, "at_s": 0.0},
        "lead": {"type": "lead", "key": "x"},
        "choose": {"type": "choose", "chosen": CHOSEN},
        "heard": {"type": "heard", "run": 0, "position_s": 0.0, "at_s": 0.0, "playing": False}
        | ({"run": "none"} if path == "/ws/watch" else {}),
        "control": {"type": "control", "do": do, "student": 999_999},
    }
    return messages[type]


def test_every_address_and_every_message_has_its_row() -> None:
    addresses, sockets = set(), set()
    for route in make(key="k", names=(), reach="").routes:
        if isinstance(route, WebSocketRoute):
            sockets.add(route.path)
        elif isinstance(route, Route):
            methods = set(route.methods or ()) - {"HEAD"}
            addresses |= {f"{method} {route.path}" for method in methods}
        else:
            assert isinstance(route, Mount)
            addresses.add(f"GET {route.path}")
    assert set(ADDRESSES) == addresses
    assert set(MESSAGES) == sockets
    types = {
        type.model_fields["type"].annotation
        for those in (FromPhone, FromInstructor, FromHand, FromPage)
        for type in get_args(those)
    }
    assert {kind.split()[0] for kind in KINDS} == {one for type in types for one in get_args(type)}


@pytest.mark.parametrize("way", ["here", "secured", "plain"])
@pytest.mark.parametrize("address", ADDRESSES)
def test_an_address_answers_those_who_may_call_it(lesson: Lesson, address: str, way: str) -> None:
    """From this machine itself, by HTTPS, and by plain HTTP, where only tapping is answered."""
    method, path = address.split()
    asked, server = path, lesson.server
    for part, value in lesson.values.items():
        path = path.replace(part, value)
    path = "/static/dom.js" if path == "/static" else path
    host = {
        "here": f"http://{server.host}",
        "secured": f"https://{server.secure}",
        "plain": f"http://{server.reach}",
    }[way]
    expected = ADDRESSES[address]
    if way == "plain" and asked not in TAPPING:
        expected = (403,) * len(PEOPLE)
    found = []
    trust = server.trusting()
    if asked == "/api/hand/qr.svg":  # only while a phone may come in
        with server.client() as client:
            client.post("/api/hand", json={"student": ""})
    with httpx.Client(base_url=host, verify=trust, trust_env=False, timeout=PATIENT_S) as client:
        for who in PEOPLE:
            headers = {"X-Coach-Key": lesson.given[who], "Origin": host}
            body = bodies(lesson.values["{id}"], lesson.given[who]).get(asked)
            found.append(client.request(method, path, json=body, headers=headers).status_code)
    assert dict(zip(PEOPLE, found, strict=True)) == dict(zip(PEOPLE, expected, strict=True))


def test_what_is_answered_in_plain_letters_is_what_a_phone_taps_by() -> None:
    """By name, so that nothing more is let through than is meant."""
    asked = {address.split()[1] for address in ADDRESSES} | set(MESSAGES)
    plain = {"/", "/join", "/static", "/secure", "/accept.svg", "/own/picture.svg", "/ws/join"}
    assert set(TAPPING) == plain <= asked
    assert set(HAND) == {"/", "/hand", "/static", "/accept.svg", "/ws/hand"}


@pytest.mark.parametrize("who", PEOPLE)
@pytest.mark.parametrize("path", MESSAGES)
def test_a_message_is_taken_from_those_who_may_send_it(talk: Lesson, path: str, who: str) -> None:
    given = talk.given[who]
    first = {
        "/ws/join": {"type": "join", "name": "Eve", "code": "no", "token": given},
        "/ws/lead": {"type": "lead", "key": given},
        "/ws/hand": {"type": "come", "code": "no", "token": given},
        "/ws/watch": {"type": "watch", "key": given},
    }[path]

    async def tried(row: str) -> str | int | None:
        """What comes of it."""
        async with Person(talk.server.host, path, first) as one:
            with contextlib.suppress(websockets.ConnectionClosed):  # nobody is let in
                await one.say(**said(path, *row.split()))
            # Its clock is asked for when it is in, so that what it answers comes after that.
            told = await one.until_any("refused", "settled")
            if told["type"] == "refused":
                await one.until_closed()
                return None
            return one.closed if told["type"] == "closed" else "taken"

    async def story() -> dict[str, str | int | None]:
        if who == "second phone" and path == "/ws/join":
            async with Phone(talk.server.host, token=given) as phone:
                await phone.until("room")
                found = {row: await tried(row) for row in MESSAGES[path]}
                assert "another page" in (await phone.until("refused"))["why"]
                return found
        return {row: await tried(row) for row in MESSAGES[path]}

    found = asyncio.run(asyncio.wait_for(story(), 3 * PATIENT_S))
    column = PEOPLE.index(who)
    assert found == {row: cells[column] for row, cells in MESSAGES[path].items()}


@pytest.mark.parametrize("path", MESSAGES)
def test_who_begins_with_anything_but_their_name_is_told_nothing(talk: Lesson, path: str) -> None:
    opens = {"/ws/join": "join", "/ws/lead": "lead", "/ws/hand": "come", "/ws/watch": "watch"}[path]

    async def story() -> None:
        for row in MESSAGES[path]:
            if row != opens:
                async with Person(talk.server.host, path, said(path, *row.split())) as one:
                    await one.until_closed()
                    assert one.told == []

    asyncio.run(asyncio.wait_for(story(), 3 * PATIENT_S))
