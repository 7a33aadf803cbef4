"""The page's server: files, requests and the room's WebSockets.

Every answer that is a problem is ``{"problem": "one sentence"}`` with status 4xx; with 507 the disk
is full, and the same may be asked again when there is room. Whatever lies under ``/api`` needs the
key, the secret in the address that the coach opens (after its ``#``), in the header
``X-Coach-Key``; bodies and answers are JSON unless a name ends otherwise.

The content security policy allows scripts, styles and fonts from ``/static`` only, none of them
inline, pictures from this server or a ``blob:``, and connections to this server only. Pictures
under ``/api`` need the header, so the page fetches them and shows them as a blob.

Files:
    GET /                   ``alone.html``; ``join.html`` where a room is open; ``hand.html`` where
                            only a hand is let in
    GET /alone              ``alone.html``: rehearse alone; the address ends in ``#key``
    GET /room               ``room.html``: the instructor's page; the address ends in ``#key``
    GET /join               ``join.html``: the phone's page; the address may end in ``#code``
    GET /static/{file}      what lies in ``coach/page/static``
    GET /secure             {link (``/join`` over HTTPS), accept (`accepting.accepting`)}; 404 where
                            phones cannot come by HTTPS
    GET /accept.svg         how a phone is told to accept the certificate
    POST /key               {ticket} -> {key}: for the address that the coach opens itself, which
                            ends in ``#once.ticket``; see `coach.page.server.ticket`

Choosing and preparing:
    GET  /api/library       {maneuvers: [{name, title, purpose}], airplanes: [{name, title,
                            invented}], supports: [...], form, students: [names in the
                            logbook], unkept (that nothing is kept and why, or ""), hand
                            (whether a phone may come in already),
                            caution}; the form that chooses is {student: field,
                            checkride: field, day: [field], heard: [field], first: {name: value}},
                            and a field {name, label}, the checkride's with its value, with its
                            options [[value, words]], or else with the attributes of its input
    POST /api/checkride     {checkride} -> {}: what is learned for from now on, "" for none; briefs,
                            debriefs and the next session are those of that checkride
    POST /api/brief         body `chosen.Chosen`; what ``coach brief --json`` prints, and to each
                            checkpoint rudder_words
    POST /api/brief.svg     the same, as a picture; with ``?upright``, as every run's, for a narrow
                            screen
    POST /api/rehearsals    body `chosen.Chosen`; answers when its opening is ready, up to the
                            silence before the count-in (a request that is aborted is given up): as
                            GET below, with the cues and pieces of that alone
    GET  /api/rehearsals/{id}               answers when all of it is ready
        {id, title, airplane, support, shows (a `support.Shows`), own (whether the attitude of the
        student's own hand is shown), why (this support, a sentence or ""), note (a sentence or
        ""), pace, whole (whether this is all), length_s, flight_start_s,
        pieces: [where each begins],
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
        The soundtrack from ``pieces[piece]`` to the next one, the opening's last piece to its end:
        16 bits, stereo, 48000 Hz. In an AudioContext of that rate, pieces started one at the end of
        the other join without a seam.
    GET  /api/rehearsals/{id}/captions.vtt
    GET  /api/rehearsals/{id}/brief and brief.svg   as above, of what is ready

Runs, alone (``run`` names the attempt; the logbook's ``number`` is known when it has ended):
    POST /api/attempts               {rehearsal, student} -> {run}; when the sound starts
    POST /api/attempts/{run}/taps    {position_s} -> {time_s}; null before the first moment
    POST /api/attempts/{run}/reached {position_s} -> {}; about once a second
    POST /api/attempts/{run}/end     {position_s, ended: "finished" or "stopped"} -> {number}; null
                                     where it was stopped before its first checkpoint
    Starting over ends an attempt as stopped and begins another. An attempt that is never ended is
    kept as interrupted. An end may be told again, and one that a full disk had no room for is
    written when there is some, whether it is told again or not.

A phone in the hand, alone:
    POST /api/hand          {student} -> {address (short, for people), code, how: [what to do with
                            the phone, in turn], accept: how its browser is told to trust this
                            machine, as the room's}; from now on a phone may come in, by HTTPS
    GET  /api/hand/qr.svg   address and code in one
    POST /api/hand/leave    {} -> {}; no phone may come in any more, and one that is in is told so
    GET  /hand              ``hand.html``: the phone's page; the address may end in ``#code``
    WS   /ws/hand           see `coach.page.hand.messages`
    WS   /ws/watch          see `coach.page.alone.messages`

The logbook:
    GET  /api/logbook?student=      {students: [everybody with runs, "" for those without a name],
                                    last_runs (how many have shares at most), maneuvers:
                                    [{maneuver, title, runs, best (a line or null),
                                    recent: [line], shares (on time, 0 to 1, oldest first), trend,
                                    readiness, due}]}, the latest flown first; a line is {id,
                                    started, when, how, ended, ended_words, not_counted (why it does
                                    not govern, or ""), checkpoints, on_time}
    GET  /api/runs/{number}         the debrief, as ``coach debrief --json`` prints it, and to its
                                    run ended_words
    GET  /api/runs/{number}/picture.svg
                                    with ``?upright``, as below, drawn for a narrow screen
    GET  /api/next?student=         [{maneuver, title, minutes, reason, support, pace, how}]; what
                                    to fly today, as ``coach next`` chooses it

The room:
    POST /api/room          {name} -> as GET; opens one where none is, as it was left; a problem
                            where another coach has it open
    GET  /api/room          {name, code, address (short, for people), link (in the QR code),
                            lan (false: phones cannot reach it, start it with --lan), tapping (the
                            plain address for phones that only tap, or ""), accept (as above, or
                            null)}; 404: none
    GET  /api/room/qr.svg
    GET  /api/room/picture.svg  everybody's taps and bank in the last run, names as shown or hidden
    GET  /own/picture.svg       a phone's own picture, its token in ``X-Coach-Key``
    WS   /ws/join, /ws/lead     see `coach.page.room.messages` and `coach.page.room.news`
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Iterable
from functools import partial
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, WebSocketRoute
from starlette.staticfiles import StaticFiles

from coach.page.alone.api import AloneApi
from coach.page.room.api import RoomApi
from coach.page.room.room import Room
from coach.page.server import accepting
from coach.page.server.connections import nobody_yet
from coach.page.server.guard import HAND, Guard, only_for
from coach.page.server.phones_door import Door, Entrance
from coach.page.server.records import Records
from coach.page.server.replies import (
    STATIC,
    Answers,
    Message,
    Missing,
    body,
    get,
    page,
    picture,
    post,
)
from coach.page.server.ticket import Ticket


class _Shown(Message):
    ticket: str


def make(
    *,
    key: str,
    names: Iterable[str],
    reach: str,
    entrance: Entrance | None = None,
    room: Room | None = None,
    port: int = 0,
    ticket: Ticket | None = None,
    door: Door | None = None,
) -> Starlette:
    """The application.

    Args:
        key: what the page that the coach opens is known by; a room's own, where there is one.
        names: what this machine may be called, besides its addresses.
        reach: host and port that this machine's own browser comes to, or a phone that only taps.
        entrance: where phones come by HTTPS, and for all there is; None where only this machine
            reaches the page.
        room: a room to open at once.
        port: where it is served, for the room's file.
        ticket: what may be given for the key.
        door: where phones come in that are a hand.
    """
    records = Records()
    alone = AloneApi(records, door or Door(), key)
    led = RoomApi(alone.rehearsals, records, key=key, reach=reach, entrance=entrance, port=port)

    async def home(request: Request) -> Response:
        """What somebody sees who types the address."""
        if only_for(request.scope) == HAND:
            return page("hand")
        return page("alone" if led.meeting is None else "join")

    async def opened(request: Request) -> Answers:
        """The key, for the page that the coach opens itself."""
        shown, scope = await body(request, _Shown), request.scope
        return {"key": (ticket or Ticket(key)).take(shown.ticket, scope["client"], scope["server"])}

    async def secure(_: Request) -> Answers:
        """Where a phone that came by plain HTTP finds the same, secured."""
        if entrance is None:
            raise Missing("This page is not served over HTTPS.")
        return {"link": entrance.link("join"), "accept": accepting.accepting(entrance)}

    async def accept(_: Request) -> Response:
        """How a phone is told to accept the certificate."""
        return picture(accepting.picture())

    @contextlib.asynccontextmanager
    async def lasting(_: Starlette) -> AsyncIterator[dict[str, Any]]:
        """As long as the server: the room, if there is one, the logbook, and who is no stranger."""
        try:
            async with led.going_on(room):
                yield nobody_yet()
        finally:
            await alone.following.close()
            records.close()

    routes = [
        get("/", home),
        *(get(f"/{name}", partial(_file, name)) for name in ("alone", "room", "join", "hand")),
        get("/secure", secure),
        get(accepting.PICTURE, accept),
        post("/key", opened),
        Mount("/static", StaticFiles(directory=STATIC)),
        get("/api/library", alone.library),
        post("/api/brief", alone.brief),
        post("/api/brief.svg", alone.brief_picture),
        post("/api/rehearsals", alone.prepare),
        get("/api/rehearsals/{id}", alone.rehearsal),
        get("/api/rehearsals/{id}/brief", alone.prepared_brief),
        get("/api/rehearsals/{id}/brief.svg", alone.prepared_brief_picture),
        get("/api/rehearsals/{id}/sound/{piece:int}.wav", alone.piece),
        get("/api/rehearsals/{id}/captions.vtt", alone.captions),
        post("/api/attempts", alone.begin),
        post("/api/attempts/{run}/taps", alone.tap),
        post("/api/attempts/{run}/reached", alone.reached),
        post("/api/attempts/{run}/end", alone.end),
        post("/api/hand", alone.hand),
        post("/api/hand/leave", alone.without_hand),
        get("/api/hand/qr.svg", alone.hand_code),
        get("/api/logbook", alone.logbook),
        get("/api/runs/{number:int}", alone.debrief),
        get("/api/runs/{number:int}/picture.svg", alone.debrief_picture),
        get("/api/next", alone.next),
        post("/api/checkride", alone.checkride),
        get("/api/room", led.about),
        post("/api/room", led.open),
        get("/api/room/qr.svg", led.code),
        get("/api/room/picture.svg", led.everybody),
        get("/own/picture.svg", led.own),
        WebSocketRoute("/ws/watch", alone.following.watch),
        WebSocketRoute("/ws/hand", alone.following.phone),
        WebSocketRoute("/ws/join", led.phone),
        WebSocketRoute("/ws/lead", led.lead),
    ]
    guard = Middleware(Guard, names=tuple(names), key=key)
    return Starlette(routes=routes, middleware=[guard], lifespan=lasting)


async def _file(name: str, _: Request) -> Response:
    return page(name)
