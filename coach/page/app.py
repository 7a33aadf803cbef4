"""The page's server: files, requests and the room's WebSockets.

Every answer that is a problem is ``{"problem": "one sentence"}`` with status 4xx. Whatever lies
under ``/api`` needs the key, the secret in the address that the coach opens (after its ``#``), in
the header ``X-Coach-Key``; bodies and answers are JSON unless a name ends otherwise.

The content security policy allows scripts, styles and fonts from ``/static`` only, none of them
inline, pictures from this server or a ``blob:``, and connections to this server only. Pictures
under ``/api`` need the header, so the page fetches them and shows them as a blob.

Files:
    GET /                   ``alone.html``; ``join.html`` where a room is open
    GET /alone              ``alone.html``: rehearse alone; the address ends in ``#key``
    GET /room               ``room.html``: the instructor's page; the address ends in ``#key``
    GET /join               ``join.html``: the phone's page; the address may end in ``#code``
    GET /static/{file}      what lies in ``coach/page/static``

Choosing and preparing:
    GET  /api/library       {maneuvers: [{name, title, purpose}], airplanes: [{name, title,
                            invented}], supports: [...], students: [names in the logbook],
                            caution}
    POST /api/brief         body `chosen.Chosen`; what ``coach brief --json`` prints, and to each
                            checkpoint rudder_words
    POST /api/brief.svg     the same, as a picture; with ``?upright``, as every run's, for a narrow
                            screen
    POST /api/rehearsals    body `chosen.Chosen`; answers when it is ready (a second or a few; a
                            request that is aborted is given up): as GET below
    GET  /api/rehearsals/{id}
        {id, title, airplane, support, why (this support, a sentence or ""), note (a sentence or
        ""), pace, length_s, flight_start_s, pieces, piece_s,
        cues: [{start_s, end_s, text (null for a tone), moment (index or null), gap_s}],
        moments: [{position_s, time_s, loop, name, heading_deg, bank_deg, pitch_deg, ias_kt,
                   altitude_ft, across_deg, east_ft, north_ft}],
        legs: [{name, position_s (where it begins)}],
        references: [{name, heading_deg, across_deg}],
        ground: null where no leg keeps to something on the ground, else {references: [{name,
                corners: [[east_ft, north_ft], ...]}], wind_from_deg, wind_kt},
        track: {position_s: [...], across_deg, pitch_deg, bank_deg, heading_deg, ias_kt,
                altitude_ft, east_ft, north_ft, loop, reference (name that the nose is turning
                to)}}
        Positions are seconds on the soundtrack. ``across_deg`` is where the nose points, degrees
        right of the entry heading, without a jump in a turn; places are feet from the first
        moment. The track has ten rows a second.
    GET  /api/rehearsals/{id}/sound/{piece}.wav
        The soundtrack from ``piece * piece_s`` on, ``piece_s`` long but for the last one: 16 bits,
        stereo, 48000 Hz. In an AudioContext of that rate, pieces started one at the end of the
        other join without a seam.
    GET  /api/rehearsals/{id}/captions.vtt
    GET  /api/rehearsals/{id}/brief and brief.svg   as above, of what is ready

Runs, alone (``run`` names the attempt; the logbook's ``number`` is known when it has ended):
    POST /api/attempts               {rehearsal, student} -> {run}; when the sound starts
    POST /api/attempts/{run}/taps    {position_s} -> {time_s}; null before the first moment
    POST /api/attempts/{run}/reached {position_s} -> {}; about once a second
    POST /api/attempts/{run}/end     {position_s, ended: "finished" or "stopped"} -> {number}; null
                                     where it was stopped before its first moment
    Starting over ends an attempt as stopped and begins another. An attempt that is never ended is
    kept as interrupted.

The logbook:
    GET  /api/logbook?student=      {students: [everybody with runs, "" for those without a name],
                                    maneuvers: [{maneuver, title, runs, best (a line or null),
                                    recent: [line], shares (on time, 0 to 1, oldest first), trend,
                                    readiness, due}]}, the latest flown first; a line is {id,
                                    started, when, how, ended, checkpoints, on_time}
    GET  /api/runs/{number}         the debrief, as ``coach debrief --json`` prints it
    GET  /api/runs/{number}/picture.svg
                                    with ``?upright``, as below, drawn for a narrow screen
    GET  /api/next?student=         [{maneuver, title, minutes, reason, support, pace, how}]; what
                                    to fly today, as ``coach next`` chooses it

The room:
    POST /api/room          {name} -> as GET; opens one where none is
    GET  /api/room          {name, code, address (short, for people), link (in the QR code),
                            lan (false: phones cannot reach it, start it with --lan)}; 404: none
    GET  /api/room/qr.svg
    GET  /api/room/picture.svg  everybody's timing of the last run, names as shown or hidden
    GET  /own/picture.svg       a phone's own picture, its token in ``X-Coach-Key``
    WS   /ws/join, /ws/lead     see `coach.page.room.messages`
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import AsyncIterator, Iterable
from functools import partial
from pathlib import Path

from pydantic import BaseModel, ConfigDict
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from coach.drawing import everybody
from coach.page.alone.api import Api
from coach.page.room import keeping
from coach.page.room.meeting import Meeting
from coach.page.room.room import Room
from coach.page.server.guard import KEY_HEADER, Guard
from coach.page.server.records import Records
from coach.page.server.replies import Answers, Missing, answered, body, picture
from coach.problems import Problem

STATIC = Path(__file__).parent / "static"


class _Open(BaseModel):
    model_config = ConfigDict(extra="forbid")
    name: str


def make(
    *,
    key: str,
    names: Iterable[str],
    reach: str,
    lan: bool = False,
    room: Room | None = None,
    port: int = 0,
) -> Starlette:
    """The application.

    Args:
        key: what the page that the coach opens is known by; a room's own, where there is one.
        names: what this machine may be called, besides its addresses.
        reach: host and port that a phone comes to.
        lan: whether phones can come there at all.
        room: a room to open at once.
        port: where it is served, for the room's file.
    """
    return _Page(key=key, reach=reach, lan=lan, room=room, port=port).application(names)


class _Page:
    """The files and the room; all else is in `coach.page.alone.api`."""

    def __init__(self, *, key: str, reach: str, lan: bool, room: Room | None, port: int) -> None:
        self.key = key
        self.reach = reach
        self.lan = lan
        self.port = port
        self.records = Records()
        self.api = Api(self.records)
        self.meeting: Meeting | None = None
        self.first = room
        self.going_on = contextlib.AsyncExitStack()

    def application(self, names: Iterable[str]) -> Starlette:
        """Routes, guard and what lasts as long as the server."""
        routes: list[BaseRoute] = [
            Route("/", self.home),
            *(Route(f"/{name}", partial(_file, name)) for name in ("alone", "room", "join")),
            Mount("/static", StaticFiles(directory=STATIC)),
            *self.api.routes(),
            Route("/api/room", answered(self.about), methods=["GET"]),
            Route("/api/room", answered(self.open), methods=["POST"]),
            Route("/api/room/qr.svg", answered(self.code)),
            Route("/api/room/picture.svg", answered(self.everybody)),
            Route("/own/picture.svg", answered(self.own)),
            WebSocketRoute("/ws/join", self.phone),
            WebSocketRoute("/ws/lead", self.lead),
        ]
        guard = Middleware(Guard, names=tuple(names), key=self.key)
        return Starlette(routes=routes, middleware=[guard], lifespan=self.lasting)

    @contextlib.asynccontextmanager
    async def lasting(self, _: Starlette) -> AsyncIterator[None]:
        """As long as the server: the room, if there is one, and the logbook."""
        try:
            async with self.going_on:
                if self.first is not None:
                    await self.begin(self.first)
                yield
        finally:
            self.records.close()

    async def begin(self, room: Room) -> None:
        """Open a room."""
        self.meeting = Meeting(room, self.api.rehearsals, self.records, self.port)
        self.going_on.enter_context(keeping.going_on(room.name))
        await self.going_on.enter_async_context(self.meeting.going_on())

    async def home(self, request: Request) -> Response:
        """What somebody sees who types the address."""
        return await _file("alone" if self.meeting is None else "join", request)

    async def about(self, _: Request) -> Answers:
        """The room, for the instructor's page."""
        room = self._meeting().room
        return {
            "name": room.name,
            "code": room.code,
            "address": self.reach,
            "link": self._link(room),
            "lan": self.lan,
        }

    async def open(self, request: Request) -> Answers:
        """Open a room where none is."""
        wanted = await body(request, _Open)
        if self.meeting is None:
            await self.begin(Room(wanted.name, key=self.key))
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
        runs = await meeting.runs.everybody()
        if not runs:
            raise Problem("Nobody has flown in this room yet.")
        names = meeting.room.names_shown
        return picture(
            await self.records.drawn(lambda path: everybody.draw(runs, path, names=names))
        )

    async def own(self, request: Request) -> Response:
        """A phone's own picture."""
        from coach.drawing.debrief import draw

        student = self._meeting().room.back(request.headers.get(KEY_HEADER, ""))
        judged = await self._meeting().runs.own(student)
        if judged is None:
            raise Problem("You have not flown in this room yet.")
        upright = "upright" in request.query_params
        return picture(await self.records.drawn(lambda path: draw(judged, path, upright=upright)))

    async def phone(self, socket: WebSocket) -> None:
        """A phone's WebSocket."""
        if self.meeting is None:
            await socket.close()
        else:
            await self.meeting.phone(socket)

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
        return f"http://{self.reach}/join#{room.code}"


async def _file(name: str, _: Request) -> Response:
    return FileResponse(STATIC / f"{name}.html", media_type="text/html")
