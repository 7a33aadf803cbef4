"""What is asked for of the room: see `coach.page.app` for the addresses."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator

from starlette.requests import Request
from starlette.responses import Response
from starlette.websockets import WebSocket

from coach.drawing.worker import Order
from coach.page.alone.rehearsals import Rehearsals
from coach.page.room import file
from coach.page.room.meeting import Meeting
from coach.page.room.room import Room
from coach.page.server.accepting import accepting
from coach.page.server.guard import KEY_HEADER
from coach.page.server.phones_door import Entrance
from coach.page.server.records import Records
from coach.page.server.replies import Answers, Message, Missing, body, code, picture
from coach.problems import Problem


class _Open(Message):
    name: str


class RoomApi:
    """The one room of a server, which may be opened later.

    Attributes:
        key: what the instructor's page is known by.
        reach: host and port that this machine's own browser comes to, or a phone that only taps.
        entrance: where phones come by HTTPS; None where they cannot come at all.
        port: where it is served, for the room's file.
        meeting: the room that is open.
    """

    def __init__(
        self,
        rehearsals: Rehearsals,
        records: Records,
        *,
        key: str,
        reach: str,
        entrance: Entrance | None,
        port: int,
    ) -> None:
        """No room is open yet."""
        self.key, self.reach, self.entrance, self.port = key, reach, entrance, port
        self.meeting: Meeting | None = None
        self._rehearsals, self._records = rehearsals, records
        self._going_on = contextlib.AsyncExitStack()

    @contextlib.asynccontextmanager
    async def going_on(self, room: Room | None) -> AsyncIterator[None]:
        """As long as the server: a room to open at once, or one that is opened meanwhile."""
        async with self._going_on:
            if room is not None:
                await self._begin(room)
            yield

    async def _begin(self, room: Room) -> None:
        self.meeting = Meeting(room, self._rehearsals, self._records, self.port)
        await self._going_on.enter_async_context(self.meeting.going_on())

    async def about(self, _: Request) -> Answers:
        """The room, for the instructor's page."""
        room, entrance = self._meeting().room, self.entrance
        return {
            "name": room.name,
            "code": room.door.code,
            "address": self._address(),
            "link": self._link(room),
            "lan": entrance is not None,
            "tapping": f"http://{self.reach}" if entrance else "",
            "accept": accepting(entrance) if entrance else None,
        }

    async def open(self, request: Request) -> Answers:
        """Open a room where none is, or go on with it as it was left."""
        wanted = await body(request, _Open)
        if self.meeting is None:
            room, _ = self._going_on.enter_context(file.opened(wanted.name))
            room.key = self.key
            await self._begin(room)
        return await self.about(request)

    async def code(self, _: Request) -> Response:
        """The address with the joining code."""
        return code(self._link(self._meeting().room))

    async def everybody(self, _: Request) -> Response:
        """Everybody's taps and bank in the last run."""
        meeting = self._meeting()
        room, names = meeting.room, meeting.room.names_shown
        shown = [(one.number, one.run, one.taps) for one in room.door.students.values() if one.run]

        async def order() -> Order:
            runs = await meeting.runs.everybody()
            if not runs:
                raise Problem("Nobody has flown in this room yet.")
            return Order("everybody", runs, {"names": names})

        of = (shown, names, room.state)
        return picture(await self._records.pictures.kept("everybody", of, order, ahead=True))

    async def own(self, request: Request) -> Response:
        """A phone's own picture."""
        meeting, token = self._meeting(), request.headers.get(KEY_HEADER, "")
        student, upright = meeting.room.door.back(token), "upright" in request.query_params

        async def order() -> Order:
            judged = await meeting.runs.own(student)
            if judged is None:
                raise Problem("You have not flown in this room yet.")
            return Order("debrief", judged, {"upright": upright})

        of = (student.run, student.taps, meeting.room.state)
        return picture(await self._records.pictures.kept((token, upright), of, order))

    async def phone(self, socket: WebSocket) -> None:
        """A phone's WebSocket."""
        if self.meeting is None:
            await socket.close()
        else:
            await self.meeting.phones.phone(socket)

    async def lead(self, socket: WebSocket) -> None:
        """The instructor's WebSocket."""
        if self.meeting is None:
            await socket.close()
        else:
            await self.meeting.lead(socket)

    def _meeting(self) -> Meeting:
        if self.meeting is None:
            raise Missing("No room is open here.")
        return self.meeting

    def _address(self) -> str:
        return self.entrance.address if self.entrance else f"http://{self.reach}"

    def _link(self, room: Room) -> str:
        return f"{self._address()}/join#{room.door.code}"
