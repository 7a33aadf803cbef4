"""Rehearsals as the page asks for them: prepared once, drawn from values, heard in pieces."""

from __future__ import annotations

import hashlib
import io
import math
import threading
import wave
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, wait
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from coach import settings
from coach.callouts.support import SUPPORTS, Support
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.ground import by_the_ground, ground_references
from coach.page.alone.chosen import Chosen, InForm
from coach.problems import Problem, nearest
from coach.rehearsal.ready import Preparation, Rehearsal, fly
from coach.script import catalog
from coach.script.quantities import KNOT
from coach.sound.clip import RATE

PIECE_S = 10
"""A piece of a soundtrack is rendered and decoded within the time that the one before it sounds."""

TRACK_HZ = 10.0

_COLUMNS = "pitch_deg bank_deg heading_deg ias_kt altitude_ft loop east_ft north_ft".split()

_KEPT = 4


def flight(chosen: Chosen) -> Flight:
    """How it would be flown.

    Raises:
        Problem: a name that is not in the library, a day that cannot be, or a script at fault.
    """
    for kind, name in (("maneuvers", chosen.maneuver), ("airplanes", chosen.airplane)):
        known = catalog.names(kind)
        if name not in known:  # the path of a file, which the library would read, is none either
            raise Problem(f"There is no {kind[:-1]} '{name}'{nearest(name, known)}")
    try:
        return fly(chosen.maneuver, chosen.airplane, day(chosen))
    except Problem as problem:
        raise InForm(problem.said, problem.field) from None


def day(chosen: Chosen) -> Day:
    """The day as the rest of the coach takes it."""
    return Day(**{name: value or None for name, value in chosen.day.model_dump().items()})


@dataclass(frozen=True)
class Prepared:
    """A rehearsal that can be heard from its beginning, if not yet to its end.

    Attributes:
        id: the same for the same choice, also after the server was started again.
        chosen: with the support that "auto" came to.
        opening: how the rehearsal begins.
        why: one sentence why this support, or "".
    """

    id: str
    chosen: Chosen
    opening: Rehearsal
    why: str

    @property
    def rest(self) -> Future[Rehearsal]:
        """What becomes the whole of it."""
        assert self.opening.rest is not None
        return self.opening.rest

    @property
    def rehearsal(self) -> Rehearsal:
        """The whole rehearsal, which is waited for."""
        return self.rest.result()

    @property
    def known(self) -> Rehearsal:
        """As much of it as there is."""
        return self.rehearsal if self.rest.done() else self.opening

    def to_dict(self) -> dict[str, Any]:
        """All that the page draws; see `coach.page.app` for its fields."""
        ready = self.known
        flown, sheet = ready.flight, ready.sheet
        return {
            "id": self.id,
            "title": flown.maneuver.title,
            "airplane": flown.airplane.title,
            "support": sheet.support,
            "shows": SUPPORTS[sheet.support].shows,
            "own": SUPPORTS[sheet.support].own,
            "why": self.why,
            "note": ready.note or "",
            "pace": sheet.pace,
            "whole": ready.rest is None,
            "length_s": ready.soundtrack.length_s,
            "flight_start_s": sheet.flight_start_s,
            "pieces": [start / ready.soundtrack.rate for start in self._starts(ready)],
            "cues": [
                {
                    "start_s": cue.start_s,
                    "end_s": cue.end_s,
                    "text": None if cue.phrase is None else cue.phrase.text,
                    "moment": cue.moment,
                    "gap_s": cue.gap_s,
                }
                for cue in sheet.cues
            ],
            **_drawn(ready),
        }

    def piece(self, number: int) -> bytes:
        """One piece of the soundtrack as a WAV file, 16 bits.

        Raises:
            Problem: there is no such piece, or not yet.
        """
        ready = self.known
        track = ready.soundtrack
        edges = [*self._starts(ready), track.length]
        if not 0 <= number < len(edges) - 1:
            raise Problem(f"The soundtrack has no piece {number}.")
        frames = track.frames(edges[number], edges[number + 1] - edges[number])
        file = io.BytesIO()
        with wave.open(file, "wb") as out:
            out.setnchannels(track.channels)
            out.setsampwidth(2)
            out.setframerate(track.rate)
            out.writeframes(np.round(np.clip(frames, -1.0, 1.0) * 32767.0).astype("<i2").tobytes())
        return file.getvalue()

    def _starts(self, ready: Rehearsal) -> list[int]:
        """The first frame of every piece; no piece lies over the end of the opening."""
        piece, opening = PIECE_S * RATE, self.opening.soundtrack.length
        return [*range(0, opening, piece), *range(opening, ready.soundtrack.length, piece)]


def _drawn(ready: Rehearsal) -> dict[str, Any]:
    flown, sheet = ready.flight, ready.sheet
    table = flown.table(TRACK_HZ / sheet.pace)
    entry = math.degrees(flown.conditions.heading)
    across = np.degrees(np.unwrap(np.radians(table["heading_deg"]))) - entry
    across -= 360.0 * np.round(across[0] / 360.0)
    times = [moment.time_s for moment in flown.moments]
    points = np.interp(times, table["t_s"], across)
    places = flown.at(times)
    columns = {name: table[name] for name in _COLUMNS} | {"across_deg": across}
    return {
        "legs": [
            {"name": span.leg, "position_s": sheet.position_s(span.start_s)} for span in flown.spans
        ],
        "moments": [
            {
                "position_s": sheet.position_s(moment.time_s),
                "time_s": moment.time_s,
                "loop": moment.loop,
                "name": moment.name,
                "heading_deg": _plain(moment.heading_deg),
                "bank_deg": _plain(moment.bank_deg),
                "pitch_deg": _plain(moment.pitch_deg),
                "ias_kt": _plain(moment.ias_kt),
                "altitude_ft": _plain(moment.altitude_ft),
                "across_deg": _plain(point),
                "east_ft": _plain(east),
                "north_ft": _plain(north),
            }
            for moment, point, east, north in zip(
                flown.moments, points, places["east_ft"], places["north_ft"], strict=True
            )
        ],
        "references": [
            {
                "name": name,
                "heading_deg": _plain(heading),
                "across_deg": _plain(math.remainder(heading - entry, 360.0)),
            }
            for name, heading in flown.references()
        ],
        "ground": _ground(flown) if by_the_ground(flown) else None,
        "track": {
            "position_s": _rounded(sheet.flight_start_s + table["t_s"] / sheet.pace),
            **{name: _rounded(column) for name, column in columns.items()},
            "reference": [flown.reference_ahead(float(time)) or "" for time in table["t_s"]],
        },
    }


def _ground(flown: Flight) -> dict[str, Any]:
    day = flown.conditions
    return {
        "references": [asdict(one) for one in ground_references(flown)],
        "wind_from_deg": _plain(math.degrees(day.wind_from)),
        "wind_kt": _plain(day.wind_speed / KNOT),
    }


def _plain(value: float) -> float:
    return round(float(value), 2)


def _rounded(column: npt.NDArray[np.float64]) -> list[float]:
    return [_plain(value) for value in column]


class Rehearsals:
    """The last few that were prepared; used from any thread, preparing one at a time."""

    def __init__(self, support_of: Callable[[str, str], tuple[Support, str]]) -> None:
        """Remember what decides "auto", from the maneuver's name and the student's.

        Args:
            support_of: gives the support, and one sentence why or "".
        """
        self._support_of = support_of
        self._kept: OrderedDict[str, Prepared] = OrderedDict()
        self._one_at_a_time = threading.Lock()

    def get(self, id: str) -> Prepared:
        """One that is ready.

        Raises:
            Problem: it is not, or not any more.
        """
        if id not in self._kept:
            raise Problem("That rehearsal is not ready any more: choose it again.")
        return self._kept[id]

    def prepare(self, chosen: Chosen, wanted: Callable[[], bool]) -> Prepared | None:
        """Have a rehearsal's opening spoken, and begin with the rest of it.

        Args:
            chosen: what is to be flown.
            wanted: whether somebody still waits for it; asked before every long step.

        Returns:
            It, or None when nobody wanted it any more.

        Raises:
            Problem: it cannot be flown or spoken.
        """
        with self._one_at_a_time:
            if not wanted():
                return None
            flown = flight(chosen)
            why = ""
            support = chosen.support
            if support == "auto":
                support, why = self._support_of(chosen.maneuver, chosen.student)
                chosen = chosen.model_copy(update={"support": support})
            id = _id(chosen)
            if id not in self._kept:
                wait([one.rest for one in self._kept.values()])
                if not wanted():
                    return None
                opening = Preparation(settings.load()).opening(
                    flown, day(chosen), support=support, pace=chosen.pace
                )
                self._kept[id] = Prepared(id, chosen, opening, why)
            self._kept.move_to_end(id)
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
            return self._kept[id]


def _id(chosen: Chosen) -> str:
    return hashlib.sha256(chosen.model_dump_json().encode()).hexdigest()[:16]
