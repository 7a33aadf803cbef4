"""What is asked for of the room: see `coach.page.app` for the addresses."""

from __future__ import annotations

import contextlib
import io
from collections.abc import AsyncIterator

from starlette.requests import Request
from starlette.responses import Response
from starlette.websockets import WebSocket

from coach.drawing.worker import Order
from coach.page.alone.rehearsals import Rehearsals
from coach.page.room import file
from coach.page.room.meeting import Meeting
from coach.page.room.room import Room
from coach.page.server.guard import KEY_HEADER
from coach.page.server.records import Records
from coach.page.server.replies import Answers, Message, Missing, body, picture
from coach.problems import Problem


class _Open(Message):
    name: str


class RoomApi:
    """The one room of a server, which may be opened later.

    Attributes:
        key: what the instructor's page is known by.
        reach: host and port that a phone comes to.
        lan: whether phones can come there at all.
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
        lan: bool,
        port: int,
    ) -> None:
        """No room is open yet."""
        self.key, self.reach, self.lan, self.port = key, reach, lan, port
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
        room = self._meeting().room
        return {
            "name": room.name,
            "code": room.door.code,
            "address": self.reach,
            "link": self._link(room),
            "lan": self.lan,
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
        """The address with the joining code, as a QR code (ISO/IEC 18004)."""
        import segno

        drawn = io.BytesIO()
        code = segno.make_qr(self._link(self._meeting().room))
        code.save(drawn, kind="svg", scale=8, border=4, dark="#000", light="#fff")
        return picture(drawn.getvalue())

    async def everybody(self, _: Request) -> Response:
        """Everybody's timing of the last run."""
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

    def _link(self, room: Room) -> str:
        return f"http://{self.reach}/join#{room.door.code}"
