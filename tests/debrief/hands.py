"""Runs flown by a hand that follows a real flight, of which it is known which error was put in.

The phone sits in any mounting and gives 20 to 60 readings a second, 60 ms late; how the phone is
held is known, and a level was taken: `coach.hand.grip` and its poses have tests of their own.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timezone
from functools import cache
from typing import Literal

import numpy as np

from coach.debrief.debrief import Debrief, debrief
from coach.debrief.error import Error, Kind
from coach.debrief.largest import notable
from coach.flight.airplane import load
from coach.flight.conditions import conditions
from coach.flight.day import Day
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.flight.plan import plan
from coach.hand.motion import Motion
from coach.logbook.run import HEADING, TRACE_COLUMNS, Run
from coach.script.catalog import maneuver, standards
from coach.script.standards import tolerances
from tests.hand.simulated import (
    Simulated,
    Spoiled,
    late_nose,
    more_bank,
    mounting,
    planned,
    reversed_bank,
    rigid,
    tempo,
)

MORE_DEG, LATE_S, QUICK, SLOW = 11.0, 1.4, 0.97, 1.03
DELAY_S = 0.06
WITHIN_DEG, WITHIN_S = 2.0, 0.15

Side = Literal["right", "left"]


@cache
def flight(name: str, side: Side = "right") -> Flight:
    """A flight on a usual day, its first turn to one side."""
    script, airplane = maneuver(name), load("meadow-four")
    return plan(script, airplane, conditions(Day(direction=side), script, airplane))


@cache
def blank(name: str, side: Side = "right") -> Run:
    """A run of it in which nothing is done yet."""
    there = flight(name, side)
    table = there.table(2.0)
    trace = {column: table[column].tolist() for column in TRACE_COLUMNS}
    trace[HEADING] = np.unwrap(table[HEADING], period=360.0).tolist()
    return Run(
        id=12,
        maneuver=name,
        title=there.maneuver.title,
        airplane=there.airplane.title,
        started=datetime(2031, 5, 4, 7, 30, tzinfo=timezone.utc),
        moments=there.moments,
        trace=trace,
        support="tones",
        tolerances=tolerances(standards(name), None),
        ended="finished",
        reached_s=there.length_s,
    )


def motion(run: Run, seed: int, *errors: Spoiled, side: Side = "right", **hand: object) -> Motion:
    """What a hand flew, read off a phone in a mounting of the seed's."""
    plan_ = planned(flight(run.maneuver, side))
    values = {"rate_hz": 20.0 + 10.0 * (seed % 5), "delay_s": DELAY_S, **hand}
    simulated = Simulated(plan_, seed, errors, **values)  # type: ignore[arg-type]
    grip = mounting(seed)
    found = simulated.readings(grip)
    pitch, bank = grip.attitude(found.up)
    there = (found.at_s >= 0.0) & (found.at_s <= plan_.time_s[-1])
    time_s, pitch_deg, bank_deg = (
        tuple(float(value) for value in one[there]) for one in (found.at_s, pitch, bank)
    )
    return Motion(time_s, pitch_deg, bank_deg, doubt_s=0.05)


def flown(name: str, seed: int, *errors: Spoiled, side: Side = "right", **hand: object) -> Run:
    """A whole run, flown by hand and with nothing tapped or said."""
    run = blank(name, side)
    return replace(run, motion=motion(run, seed, *errors, side=side, **hand))


@dataclass(frozen=True)
class Put:
    """What was put into a hand.

    Attributes:
        errors: it.
        kind: as what it is to be told; None for nothing to be told.
        loops: where.
        name: at which checkpoint; "" where it is more than one.
        deg: the bank that was held there.
        late_s: how late it was.
        slope: its tempo.
    """

    errors: tuple[Spoiled, ...] = ()
    kind: Kind | None = None
    loops: tuple[int, ...] = ()
    name: str = ""
    deg: float | None = None
    late_s: float | None = None
    slope: float = 1.0


@dataclass(frozen=True)
class Told:
    """What became of it.

    Attributes:
        first: whether it was told, before all else.
        others: what was told besides and nobody did.
        off_deg: how far off its size was told.
        off_s: how far off its seconds were.
    """

    first: bool
    others: tuple[str, ...]
    off_deg: float | None = None
    off_s: float | None = None

    @property
    def exactly(self) -> bool:
        """Whether it was told first, alone, and as large as it was."""
        sizes = ((self.off_deg, WITHIN_DEG), (self.off_s, WITHIN_S))
        near = all(off is None or abs(off) <= within for off, within in sizes)
        return self.first and not self.others and near


def told(judged: Debrief, put: Put) -> Told:
    """What a debrief told of what was put in."""
    found = notable(judged.verdicts, judged.hand)
    if put.kind is None:
        good = judged.next.startswith("Your hand is good")
        return Told(good, tuple(one.words for one in found))
    if not found:
        return Told(False, ())
    first, *others = found
    loops = {one.loop for one in first.verdicts}
    there = first.kind == put.kind and (not put.loops or loops <= set(put.loops))
    return Told(
        there and put.name in ("", first.name),
        tuple(one.words for one in others),
        _off_deg(first, put) if there else None,
        _off_s(judged, first, put) if there else None,
    )


def _off_deg(error: Error, put: Put) -> float | None:
    if put.deg is None:
        return None
    there = [one.flown.bank.across_deg for one in error.verdicts if one.flown]
    return statistics.fmean(there) - put.deg


def _off_s(judged: Debrief, error: Error, put: Put) -> float | None:
    if put.slope != 1.0:
        hand = judged.hand
        # At the end of the flight; the hand is told to be as late as its tempo makes it there.
        ends_s = error.verdicts[-1].flight_s
        due_s = (put.slope - 1.0) * ends_s + DELAY_S
        return None if hand is None else hand.tempo.late_s(ends_s) - due_s
    if put.late_s is None or error.off_s is None:
        return None
    return error.off_s - put.late_s - DELAY_S


def _at(run: Run, name: str, seed: int) -> Moment:
    there = [moment for moment in run.moments if moment.name == name]
    return there[seed % len(there)]


def _loop(run: Run, loop: int) -> tuple[float, float]:
    before = [moment.time_s for moment in run.moments if moment.loop == loop - 1]
    return max(before, default=0.0), max(m.time_s for m in run.moments if m.loop == loop)


def _bank(run: Run, seed: int) -> Put:
    at = _at(run, "90", seed)
    more = more_bank(at.time_s, MORE_DEG)
    return Put((more,), "bank", (at.loop,), "90", deg=abs(at.bank_deg) + MORE_DEG)


def _every_bank(run: Run, seed: int) -> Put:
    there = [moment for moment in run.moments if moment.name == "90"]
    more = tuple(more_bank(at.time_s, MORE_DEG) for at in there)
    return Put(more, "bank", (1, 2, 3, 4), "90", deg=abs(there[0].bank_deg) + MORE_DEG)


def _nose(run: Run, seed: int) -> Put:
    loop = 1 + seed % 4
    return Put((late_nose(LATE_S, *_loop(run, loop)),), "came", (loop,), late_s=LATE_S)


PUT: Mapping[str, Callable[[Run, int], Put]] = {
    "nothing": lambda run, seed: Put(),
    "bank +11 at one 90": _bank,
    "bank +11 at every 90": _every_bank,
    "nose 1.4 s late in one loop": _nose,
    "nose 1.4 s late throughout": lambda run, seed: Put(
        (late_nose(LATE_S),), "came", (1, 2, 3, 4), late_s=LATE_S
    ),
    "bank reversed in loop 3": lambda run, seed: Put(
        (reversed_bank(*_loop(run, 3)),), "turned", (3,)
    ),
    "a rigid hand": lambda run, seed: Put((rigid(),), "still"),
    "a rusher, 3 %": lambda run, seed: Put((tempo(QUICK),), "came", slope=QUICK),
    "a dragger, 3 %": lambda run, seed: Put((tempo(SLOW),), "came", slope=SLOW),
}
"""Everything that is put into a lazy eight, by its name; where, by the seed."""


def tried(name: str, what: str, seed: int, side: Side = "right") -> tuple[Debrief, Told]:
    """One hand, debriefed."""
    put = PUT[what](blank(name, side), seed)
    judged = debrief(flown(name, seed, *put.errors, side=side))
    return judged, told(judged, put)


def sizes(found: Sequence[float | None]) -> str:
    """The middle and the largest of some errors, without their signs; "" for none."""
    known = sorted(abs(one) for one in found if one is not None)
    return f"{known[len(known) // 2]:.2f} / {known[-1]:.2f}" if known else ""
