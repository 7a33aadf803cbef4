"""What a student calls out at each checkpoint; loops that are flown alike are told once."""

from __future__ import annotations

from dataclasses import dataclass

from coach.callouts.wording import values
from coach.flight.asked import is_right, true
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.asked import ASKED
from coach.words import side_of

AT_ONCE_S = 0.5
"""A leg that begins so close to a checkpoint begins with it."""

SAME = ("pitch", "bank", "speed", "altitude")
"""The numbers that are called out."""


@dataclass(frozen=True)
class Call:
    """What is true at a checkpoint, as the coach says it, and what begins there.

    Attributes:
        name: the checkpoint.
        time_s: when it first comes.
        pitch: such as ``"18° above level"``.
        bank: such as ``"15° right"``, or that the wings are level.
        speed: indicated.
        altitude: to the nearest ten feet.
        begins: the leg that begins there, as its script calls it; "" for none.
    """

    name: str
    time_s: float
    pitch: str
    bank: str
    speed: str
    altitude: str
    begins: str

    @property
    def aloud(self) -> str:
        """What is called out: the attitude, the numbers, and what begins."""
        said = f"pitch {self.pitch}, {self.bank}, {self.speed}, {self.altitude}"
        return f"{said}; then {self.begins}" if self.begins else said


@dataclass(frozen=True)
class Alike:
    """Loops in which a student calls out the same.

    Attributes:
        loops: which, from 1.
        sides: to which side each of them turns.
        moments: the checkpoints of the first of them.
        calls: and what is called out there.
    """

    loops: tuple[int, ...]
    sides: tuple[str, ...]
    moments: tuple[Moment, ...]
    calls: tuple[Call, ...]


def alike(flight: Flight) -> tuple[Alike, ...]:
    """The loops by what is called out in them, in the order in which it is first.

    Loops are alike where all the numbers of one are right in the other, as an answer would be
    (`coach.script.asked`), each to its own side.
    """
    found: list[list[int]] = []
    flown = {
        loop: tuple(moment for moment in flight.moments if moment.loop == loop)
        for loop in range(1, len(flight.sides) + 1)
    }
    for loop, moments in flown.items():
        for group in found:
            if _same(moments, flown[group[0]]):
                group.append(loop)
                break
        else:
            found.append([loop])
    return tuple(
        Alike(
            loops=tuple(group),
            sides=tuple(side_of(flight.sides[loop - 1]) for loop in group),
            moments=flown[group[0]],
            calls=tuple(_call(flight, moment) for moment in flown[group[0]]),
        )
        for group in found
    )


def _same(loop: tuple[Moment, ...], other: tuple[Moment, ...]) -> bool:
    return [one.name for one in loop] == [one.name for one in other] and all(
        is_right(number, true(number, here), true(number, there))
        for here, there in zip(loop, other, strict=True)
        for number in SAME
    )


def _call(flight: Flight, moment: Moment) -> Call:
    said = {name: phrase.text for name, phrase in values(flight, moment).items()}
    level = not round(moment.bank_deg)
    return Call(
        name=moment.name,
        time_s=moment.time_s,
        pitch=said["pitch"],
        bank=ASKED["bank"].told_zero
        if level
        else f"bank {said['bank']} {side_of(moment.bank_deg)}",
        speed=said["speed"],
        altitude=said["altitude"],
        begins=_begins(flight, moment),
    )


def _begins(flight: Flight, moment: Moment) -> str:
    leg = next(
        (
            span.leg
            for span in flight.spans
            if abs(span.start_s - moment.time_s) < AT_ONCE_S < span.end_s - moment.time_s
        ),
        "",
    )
    return "" if leg == moment.name else leg
