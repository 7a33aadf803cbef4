"""Who may call what: every address and every message, tried by everybody.

A stranger has been told nothing. A student has a token; their second phone has the same one, and
whoever was taken out one that was good before. The instructor has the key in their page's address.
Each gives what they have wherever something can be given.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import httpx
import pytest
from starlette.routing import Mount, Route, WebSocketRoute

from coach.page.app import make
from coach.page.room.messages import Control, FromInstructor, FromPhone
from tests.page.people import CHOSEN, JUDGED_S, PATIENT_S, Instructor, Person, Phone, Served, served

PEOPLE = ("stranger", "student", "second phone", "taken out", "instructor")

EVERYBODY = (200, 200, 200, 200, 200)
PHONES = (400, 200, 200, 400, 400)


def led(status: int) -> tuple[int, ...]:
    """Only with the instructor's key, who then has this answer."""
    return (403, 403, 403, 403, status)


ADDRESSES: dict[str, tuple[int, ...]] = {
    "GET /": EVERYBODY,
    "GET /alone": EVERYBODY,
    "GET /room": EVERYBODY,
    "GET /join": EVERYBODY,
    "GET /static": EVERYBODY,
    "POST /key": (400, 400, 400, 400, 400),  # none of these is a ticket
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
}

IN = (None, "taken", "taken", None, None)
"""Who comes in is heard: what a phone may say is taken, anything else closes it."""

CLOSED_PHONES = (None, 1008, 1008, None, None)
LEADS = (None, None, None, None, "taken")
CLOSED_LEAD = (None, None, None, None, 1008)

MESSAGES: dict[str, dict[str, tuple[str | int | None, ...]]] = {
    "/ws/join": {
        "join": IN,
        "answer": IN,
        "tap": IN,
        "lead": CLOSED_PHONES,
        "choose": CLOSED_PHONES,
        "heard": CLOSED_PHONES,
        **{
            f"control {do}": CLOSED_PHONES for do in get_args(Control.model_fields["do"].annotation)
        },
    },
    "/ws/lead": {
        "join": CLOSED_LEAD,
        "tap": CLOSED_LEAD,
        "lead": LEADS,
        "answer": LEADS,
        "choose": LEADS,
        "heard": LEADS,
        **{f"control {do}": LEADS for do in get_args(Control.model_fields["do"].annotation)},
    },
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
    with served(new_home(), "Blue") as server:
        yield asyncio.run(asyncio.wait_for(flown(server), 3 * PATIENT_S))


lesson = pytest.fixture(scope="module", name="lesson")(taught)
"""One for all addresses, and for those who say nothing right."""

talk = pytest.fixture(scope="module", name="talk")(taught)
"""One for all messages, some of which leave it without a picture of the last run."""


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
    return Lesson(
        server,
        dict(zip(PEOPLE, ("made up", tokens[0], tokens[0], tokens[1], server.key), strict=True)),
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
    }


def said(type: str, do: str = "") -> dict[str, Any]:
    """A message as its model has it, which changes nothing that another cell needs."""
    messages: dict[str, dict[str, Any]] = {
        "join": {"type": "join", "name": "Bo"},
        "answer": {"type": "answer", "number": 0, "received_s": 0.0, "answered_s": 0.0},
        "tap": {"type": "tap", "number": 0, "at_s": 0.0},
        "lead": {"type": "lead", "key": "x"},
        "choose": {"type": "choose", "chosen": CHOSEN},
        "heard": {"type": "heard", "run": 0, "position_s": 0.0, "at_s": 0.0, "playing": False},
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
        for type in (*get_args(FromPhone), *get_args(FromInstructor))
    }
    for rows in MESSAGES.values():
        assert {row.split()[0] for row in rows} == {one for type in types for one in get_args(type)}


@pytest.mark.parametrize("address", ADDRESSES)
def test_an_address_answers_those_who_may_call_it(lesson: Lesson, address: str) -> None:
    method, path = address.split()
    asked = path
    for part, value in lesson.values.items():
        path = path.replace(part, value)
    path = "/static/dom.js" if path == "/static" else path
    host = f"http://{lesson.server.host}"
    found = []
    for who in PEOPLE:
        headers = {"X-Coach-Key": lesson.given[who], "Origin": host}
        with httpx.Client(base_url=host, headers=headers, timeout=PATIENT_S) as client:
            body = bodies(lesson.values["{id}"], lesson.given[who]).get(asked)
            found.append(client.request(method, path, json=body).status_code)
    assert dict(zip(PEOPLE, found, strict=True)) == dict(
        zip(PEOPLE, ADDRESSES[address], strict=True)
    )


@pytest.mark.parametrize("who", PEOPLE)
@pytest.mark.parametrize("path", MESSAGES)
def test_a_message_is_taken_from_those_who_may_send_it(talk: Lesson, path: str, who: str) -> None:
    given = talk.given[who]
    first = {
        "/ws/join": {"type": "join", "name": "Eve", "code": "no", "token": given},
        "/ws/lead": {"type": "lead", "key": given},
    }[path]

    async def tried(row: str) -> str | int | None:
        """What comes of it."""
        async with Person(talk.server.host, path, first) as one:
            if (await one.until_any("refused", "room"))["type"] != "room":
                await one.until_closed()
                return None
            await one.say(**said(*row.split()))
            # What is answered in any case comes after it.
            await one.say(**said("tap") if path == "/ws/join" else said("control", "let_in"))
            told = await one.until_any("tapped" if path == "/ws/join" else "note")
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
def test_who_begins_with_anything_but_their_name_is_told_nothing(lesson: Lesson, path: str) -> None:
    opens = {"/ws/join": "join", "/ws/lead": "lead"}[path]

    async def story() -> None:
        for row in MESSAGES[path]:
            if row != opens:
                async with Person(lesson.server.host, path, said(*row.split())) as one:
                    await one.until_closed()
                    assert one.told == []

    asyncio.run(asyncio.wait_for(story(), 3 * PATIENT_S))
