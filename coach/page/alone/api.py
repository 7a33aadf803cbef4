"""What a student alone asks for: see `coach.page.app` for the addresses."""

from __future__ import annotations

import asyncio
import contextlib
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import StringConstraints
from starlette.requests import Request
from starlette.responses import Response

from coach import settings
from coach.brief.board import board
from coach.callouts.captions import webvtt
from coach.callouts.controls import say_rudder
from coach.callouts.support import SUPPORTS, Support
from coach.debrief.debrief import Debrief
from coach.debrief.trend import LAST_RUNS
from coach.drawing.worker import Order
from coach.flight import airplane as airplanes
from coach.flight.fit import derive
from coach.flight.flight import Flight
from coach.page.alone import study
from coach.page.alone.attempts import At, Attempts, Begin, End
from coach.page.alone.chosen import Chosen, Learns
from coach.page.alone.following import Following
from coach.page.alone.form import form
from coach.page.alone.rehearsals import Prepared, Rehearsals, flight
from coach.page.server.names import LONGEST
from coach.page.server.phones_door import Door
from coach.page.server.records import Records
from coach.page.server.replies import GONE, Answers, Message, Missing, body, code, picture
from coach.practice.judging import pasts
from coach.problems import Problem
from coach.rehearsal.ready import support_for
from coach.rehearsal.today import today
from coach.script import catalog
from coach.words import CAUTION


class _Whose(Message):
    student: Annotated[str, StringConstraints(max_length=LONGEST)] = ""


class AloneApi:
    """Choosing, preparing, flying alone and looking back.

    Attributes:
        rehearsals: those that are ready, for the room as well.
        following: the phone in the hand, where there is one.
    """

    def __init__(self, records: Records, door: Door, key: str) -> None:
        """Nothing is prepared yet.

        Args:
            records: the logbook, and the pictures.
            door: where phones come in.
            key: what the page is known by.
        """
        self._records = records
        self.rehearsals = Rehearsals(self._support)
        self._attempts = Attempts(records)
        self.following = Following(records, self._attempts, door, key)

    async def library(self, _: Request) -> Answers:
        """What there is to choose from."""
        students = await self._records.ask(lambda logbook: logbook.students())
        return {
            **await asyncio.to_thread(_library),
            "supports": ["auto", *SUPPORTS],
            "form": form(settings.load()),
            "students": [name for name in students if name],
            "unkept": await self._records.unkept(),
            "hand": self.following.wanted,
            "caution": CAUTION,
        }

    async def brief(self, request: Request) -> Answers:
        """The brief as values."""
        chosen = await body(request, Chosen)
        return await asyncio.to_thread(lambda: _brief(flight(chosen)))

    async def brief_picture(self, request: Request) -> Response:
        """The brief as a picture."""
        chosen = await body(request, Chosen)
        return await self._picture(request, "brief", await asyncio.to_thread(flight, chosen))

    async def prepared_brief(self, request: Request) -> Answers:
        """The brief of a rehearsal that is ready."""
        return await asyncio.to_thread(_brief, self._ready(request).opening.flight)

    async def prepared_brief_picture(self, request: Request) -> Response:
        """The same, as a picture."""
        return await self._picture(request, "brief", self._ready(request).opening.flight)

    async def prepare(self, request: Request) -> Answers | Response:
        """A rehearsal made ready to begin; one that nobody waits for any more is given up."""
        chosen = await body(request, Chosen)
        wanted = True
        work = asyncio.create_task(
            asyncio.to_thread(self.rehearsals.prepare, chosen, lambda: wanted)
        )
        while not work.done():
            await asyncio.wait([work], timeout=0.2)
            wanted = wanted and not await request.is_disconnected()
        ready = await work
        return Response(status_code=GONE) if ready is None else await _drawn(ready)

    async def rehearsal(self, request: Request) -> Answers:
        """All of a rehearsal, to be drawn; waited for where only its opening is there."""
        return await _drawn(await _whole(self._ready(request)))

    async def piece(self, request: Request) -> Response:
        """A piece of its soundtrack."""
        ready, number = self._ready(request), request.path_params["piece"]
        return Response(await asyncio.to_thread(ready.piece, number), media_type="audio/wav")

    async def captions(self, request: Request) -> Response:
        """What is said when, as WebVTT."""
        text = webvtt((await _whole(self._ready(request))).rehearsal.sheet)
        return Response(text, media_type="text/vtt")

    async def begin(self, request: Request) -> Answers:
        """The sound of a rehearsal starts."""
        wanted = await body(request, Begin)
        ready = await _whole(self.rehearsals.get(wanted.rehearsal))
        return {"run": self._attempts.begin(ready, wanted.student)}

    async def tap(self, request: Request) -> Answers:
        """A tap of an attempt."""
        at = await body(request, At)
        return {"time_s": await self._attempts.tap(request.path_params["run"], at)}

    async def reached(self, request: Request) -> Answers:
        """How far an attempt has come."""
        await self._attempts.reached(request.path_params["run"], await body(request, At))
        return {}

    async def end(self, request: Request) -> Answers:
        """An attempt is over."""
        run, end = request.path_params["run"], await body(request, End)
        await self.following.over(run)
        return {"number": await self._attempts.end(run, end)}

    async def hand(self, request: Request) -> Answers:
        """A phone may come in as the hand."""
        return await self.following.open((await body(request, _Whose)).student)

    async def hand_code(self, _: Request) -> Response:
        """Where it comes in, as a picture."""
        return code(self.following.link)

    async def without_hand(self, request: Request) -> Answers:
        """No phone is wanted any more."""
        await body(request, Message)
        await self.following.close()
        return {}

    async def logbook(self, request: Request) -> Answers:
        """What a student did of each maneuver, and who else has runs."""
        student = request.query_params.get("student", "")
        today = date.today()
        return await self._records.ask(
            lambda logbook: {
                "students": logbook.students(),
                "last_runs": LAST_RUNS,
                "maneuvers": study.flown(pasts(logbook, student), today),
            }
        )

    async def debrief(self, request: Request) -> Answers:
        """A run's debrief."""
        return study.told(await self._judged(request))

    async def debrief_picture(self, request: Request) -> Response:
        """A run's picture."""
        return await self._picture(request, "debrief", await self._judged(request))

    async def next(self, request: Request) -> Answers:
        """What to fly today, and how."""
        student = request.query_params.get("student", "")
        found = await self._records.ask(lambda logbook: pasts(logbook, student))
        chosen = settings.load()
        if not found and chosen.asked_at is None:
            return []
        flown = await asyncio.to_thread(today, found, date.today(), asked_at=chosen.asked_at)
        library = (await asyncio.to_thread(_library))["maneuvers"]
        titles = {one["name"]: one["title"] for one in library}
        return study.session(flown, found, titles, chosen)

    async def checkride(self, request: Request) -> Answers:
        """What the student learns for, from now on."""
        learns = await body(request, Learns)
        await asyncio.to_thread(settings.learning_for, learns.checkride)
        return {}

    def _support(self, maneuver: str, student: str) -> tuple[Support, str]:
        chosen = settings.load()
        return self._records.now(lambda book: support_for(chosen, book, maneuver, student))

    def _ready(self, request: Request) -> Prepared:
        return self.rehearsals.get(request.path_params["id"])

    async def _picture(
        self, request: Request, drawing: Literal["brief", "debrief"], of: Flight | Debrief
    ) -> Response:
        order = Order(drawing, of, {"upright": "upright" in request.query_params})
        return picture(await self._records.pictures.drawn(order))

    async def _judged(self, request: Request) -> Debrief:
        number = request.path_params["number"]
        try:
            return await self._records.ask(lambda logbook: study.judged(logbook, number))
        except Problem as problem:
            raise Missing(str(problem)) from None


def _brief(flown: Flight) -> dict[str, Any]:
    """The board, and the rudder as the coach says it."""
    told = board(flown, settings.load().asked_at)
    for row in told["checkpoints"]:
        row["rudder_words"] = say_rudder(row["rudder"])
    return told


async def _drawn(ready: Prepared) -> dict[str, Any]:
    return await asyncio.to_thread(ready.to_dict)


async def _whole(ready: Prepared) -> Prepared:
    await asyncio.wrap_future(ready.rest)
    return ready


def _library() -> dict[str, list[dict[str, Any]]]:
    maneuvers, planes = [], []
    for name in catalog.names("maneuvers"):
        with contextlib.suppress(Problem):  # a student's own script at fault hides no other
            script = catalog.maneuver(name)
            maneuvers.append({"name": name, "title": script.title, "purpose": script.purpose})
    for name in catalog.names("airplanes"):
        with contextlib.suppress(Problem):
            plane = airplanes.load(name)
            derive(plane)  # one whose numbers contradict each other flies nothing
            planes.append({"name": name, "title": plane.title, "invented": plane.invented})
    return {"maneuvers": maneuvers, "airplanes": planes}
