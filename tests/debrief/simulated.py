"""Invented students of real flights, of whom it is known what they did and what a coach can know.

Each is drawn by a seed: what is flown, whether it is tapped, called out or answered, how good the
microphone is, and which errors are made, in seconds, degrees, knots and feet.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timezone
from functools import cache
from typing import Literal

import numpy as np

from coach.flight.moment import Moment
from coach.logbook.run import HEADING, TRACE_COLUMNS, Run
from coach.script.asked import Asked
from coach.script.catalog import standards
from coach.script.standards import tolerances
from coach.taps.tap import UNCLEAR, Tap
from coach.taps.unheard import Unheard, Why
from tests.callouts.flown import flown

Way = Literal["taps", "calls", "answers"]
Kind = Literal["late", "early", "wrong", "missed"]

FLOWN = ("lazy-eight", "chandelle", "steep-turn-45", "power-on-stall")
LOST = (0.0, 0.0, 0.3, 0.6)
"""Shares of what is said that a microphone loses."""

LIMITS: Mapping[str, float] = {
    "heading": 10.0, "speed": 10.0, "altitude": 100.0, "bank": 5.0, "pitch": 3.0,
}  # fmt: skip
"""Degrees, knots and feet: FAA-S-ACS-7, tasks V.A and V.D, from memory; of pitch common practice,
no source."""

MISSED = 2.0
"""A missed checkpoint comes after errors of more than twice their limit (the coach's own guess)."""

OFF: Mapping[str, Sequence[int]] = {
    "pitch": (-9, -6, 6, 9), "bank": (-15, -10, 10, 15), "speed": (-20, -12, 12, 20),
    "altitude": (-500, -250, 250, 500), "heading": (-90, -30, 30, 90),
}  # fmt: skip
QUESTION_S = 3.0
SAID: tuple[Why, ...] = ("not understood", "the ears were busy")
_WRONG: Kind = "wrong"
_FIELDS: Mapping[str, str] = {
    "pitch": "pitch_deg", "bank": "bank_deg", "speed": "ias_kt", "altitude": "altitude_ft",
    "heading": "heading_deg",
}  # fmt: skip
SPREAD_S = 0.06
"""How far off is who makes no error."""


@dataclass(frozen=True)
class Made:
    """One error that a student made.

    Attributes:
        kind: what was wrong.
        loop: where.
        name: of the checkpoint.
        share: how large it is by the standard, 1 at its limit, reckoned without the coach.
        lost: whether the coach cannot know of it.
        words: what was done.
    """

    kind: Kind
    loop: int
    name: str
    share: float
    lost: bool
    words: str

    @property
    def place(self) -> tuple[int, str]:
        """Its checkpoint."""
        return self.loop, self.name


@dataclass(frozen=True)
class Simulated:
    """A student's run, with the truth about it.

    Attributes:
        seed: who it is.
        way: what is done at a checkpoint.
        lost: the share of it that the microphone loses.
        run: as the logbook would have it.
        made: every error.
    """

    seed: int
    way: Way
    lost: float
    run: Run
    made: tuple[Made, ...]

    @property
    def known(self) -> tuple[Made, ...]:
        """The errors that the coach can know of."""
        return tuple(one for one in self.made if not one.lost)


def simulated(seed: int) -> Simulated:
    """The student of a seed."""
    dice = random.Random(seed)
    name = FLOWN[seed % len(FLOWN)]
    way: Way = ("answers", "calls", "taps")[seed // len(FLOWN) % 3]
    lost = 0.0 if way == "taps" else dice.choice(LOST)
    empty = blank(name, way)
    places = [
        index for index, moment in enumerate(empty.moments) if way != "answers" or moment.asks
    ]
    wrong = set(dice.sample(places, min(len(places), dice.choice((0, 1, 1, 2, 3)))))
    taps: list[Tap] = []
    unheard: list[Unheard] = []
    made: list[Made] = []
    for index in places:
        done, errors = _done(empty, index, way, dice, wrong=index in wrong)
        is_lost = dice.random() < lost
        there = empty.moments[index]
        made += [
            Made(kind, there.loop, there.name, share, is_lost and bool(done), words)
            for kind, share, words in errors
        ]
        if not is_lost:
            taps += done
        elif done and dice.random() < 0.5:
            taps.append(replace(done[0], value=None, said=UNCLEAR))
        elif done:
            begin_s = done[0].time_s - 0.2
            unheard.append(Unheard(begin_s, begin_s + 1.5, dice.choice(SAID)))
    kept = replace(
        empty, taps=tuple(sorted(taps, key=lambda tap: tap.time_s)), unheard=tuple(unheard)
    )
    return Simulated(seed, way, lost, kept, tuple(made))


@cache
def blank(name: str, way: Way) -> Run:
    """A run in which nothing is done yet."""
    flight = flown(name)
    table = flight.table(2.0)
    trace = {column: table[column].tolist() for column in TRACE_COLUMNS}
    trace[HEADING] = np.unwrap(table[HEADING], period=360.0).tolist()
    return Run(
        maneuver=name,
        title=flight.maneuver.title,
        airplane=flight.airplane.title,
        started=datetime(2031, 5, 4, 7, 30, tzinfo=timezone.utc),
        moments=flight.moments,
        trace=trace,
        support={"taps": "tones", "calls": "start", "answers": "asking"}[way],
        tolerances=tolerances(standards(name), None),
        ended="finished",
        reached_s=flight.length_s,
    )


def _done(
    run: Run, index: int, way: Way, dice: random.Random, *, wrong: bool
) -> tuple[list[Tap], list[tuple[Kind, float, str]]]:
    """What is done at a checkpoint, and which errors of which size that is."""
    moment = run.moments[index]
    kind: Kind = (
        dice.choice(("wrong",) * 3 + ("missed",))
        if way == "answers"
        else dice.choice(("late", "early", "late", "early", "missed"))
    )
    if wrong and kind == "missed":
        return [], [(kind, MISSED, "missed")]
    if way == "answers":
        return _answer(run, index, dice, wrong=wrong)
    size_s = dice.uniform(0.8, 1.8) if way == "calls" else dice.uniform(0.5, 1.8)
    off_s = (size_s if kind == "late" else -size_s) if wrong else dice.gauss(0.0, SPREAD_S)
    at = moment.time_s + off_s
    tap = Tap(at) if way == "taps" else Tap(at, None, "voice", None, moment.name)
    words = f"{abs(off_s):.2f} s {kind}"
    return [tap], [(kind, _share_of_tap(run, moment, at), words)] if wrong else []


def _answer(
    run: Run, index: int, dice: random.Random, *, wrong: bool
) -> tuple[list[Tap], list[tuple[Kind, float, str]]]:
    moment = run.moments[index]
    before_s = run.moments[index - 1].time_s + 0.5 if index else 0.0
    question_s = max(before_s, moment.time_s - QUESTION_S)
    hesitates_s = min(dice.uniform(0.4, 1.0), 0.6 * (moment.time_s - question_s))
    at = question_s + hesitates_s
    mistaken = dice.choice(moment.asks) if wrong else ""
    taps, errors = [], []
    for asked in moment.asks:
        value = float(round(_true(moment, asked)))
        if asked == mistaken:
            off = dice.choice([step for step in OFF[asked] if asked == "pitch" or value + step > 0])
            errors.append((_WRONG, abs(off) / LIMITS[asked], f"{asked} {off:+d}"))
            value = (value + off) % 360.0 if asked == "heading" else value + off
        taps.append(Tap(at, value, "voice", hesitates_s, asked))
    return taps, errors


def _true(moment: Moment, asked: Asked) -> float:
    value: float = getattr(moment, _FIELDS[asked])
    return abs(value) if asked == "bank" else value


def _share_of_tap(run: Run, moment: Moment, at_s: float) -> float:
    """By how much the airplane had turned, sped up and climbed, against the limits."""
    table = flown(run.maneuver).table(20.0)
    gone = {}
    for asked, column in (("heading", HEADING), ("speed", "ias_kt"), ("altitude", "altitude_ft")):
        values = np.asarray(table[column])
        values = np.unwrap(values, period=360.0) if column == HEADING else values
        there, belongs = np.interp([at_s, moment.time_s], table["t_s"], values)
        gone[asked] = abs(there - belongs) / LIMITS[asked]
    return float(max(gone.values()))
