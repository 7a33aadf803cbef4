"""What a maneuver writes where a number belongs, and where in the script it stands."""

from __future__ import annotations

import math
from collections.abc import Iterable

from coach.script.legs import POWERS, Change
from coach.script.maneuver import WISH_KINDS, Maneuver
from coach.script.quantities import parse
from coach.script.reading import Place


def number(kind: str, written: object) -> float:
    """A written value of a kind, which may also be ``number`` or an angle ``turned``.

    The power ``as needed`` is no number; it reads as nan.

    Raises:
        ValueError: one sentence.
    """
    if kind == "share" and written in POWERS:
        return {"idle": 0.0, "full": 1.0, "as needed": math.nan}[str(written)]
    if kind != "number":
        return parse("angle" if kind == "turned" else kind, written)
    try:
        return float(str(written))
    except ValueError:
        raise ValueError(f"found {written!r}, expected a number") from None


def uses(maneuver: Maneuver) -> Iterable[tuple[str, str, Place]]:
    """Every written value that may be an unknown's name: the value, its kind, its place."""
    yield maneuver.entry.power, "share", ("entry", "power")
    for index, leg in enumerate(maneuver.legs):
        place: Place = ("legs", index)
        if leg.time is not None:
            yield leg.time, "time", (*place, "time")
        if leg.power is not None:
            yield leg.power, "share", (*place, "power")
        for key in ("bank", "pitch", "path"):
            change: Change | None = getattr(leg, key)
            if change is not None:
                yield change.to, "angle", (*place, key, "to")
                for end, rate in enumerate(change.rates or ()):
                    yield rate, "number", (*place, key, "rates", end)
        if leg.turn is not None and leg.turn.bank is not None:
            yield leg.turn.bank, "angle", (*place, "turn", "bank")
        for law in ("turn", "circle", "pylon"):
            for goal in ("through", "to", "onto"):
                written: str | None = getattr(getattr(leg, law), goal, None)
                if written is not None:
                    yield written, "turned", (*place, law, goal)
        if leg.until is not None:
            lengths = ("distance", "ahead", "height")
            for key, kind in (("turned", "turned"), *((one, "length") for one in lengths)):
                written = getattr(leg.until, key)
                if written is not None:
                    yield written, kind, (*place, "until", key)


def targets(maneuver: Maneuver) -> Iterable[tuple[str, str, Place]]:
    """Every written value that may be compared with a base: the value, its kind, its place."""
    for index, one in enumerate(maneuver.entry.speed):
        yield one, "speed", ("entry", "speed", index)
    for index, leg in enumerate(maneuver.legs):
        place: Place = ("legs", index)
        if leg.speed is not None:
            yield leg.speed, "speed", (*place, "speed")
        if leg.altitude is not None:
            yield leg.altitude, "length", (*place, "altitude")
        if leg.until is not None and leg.until.speed is not None:
            yield leg.until.speed, "speed", (*place, "until", "speed")
        if leg.until is not None and leg.until.altitude is not None:
            yield leg.until.altitude, "length", (*place, "until", "altitude")
    for index, wish in enumerate(maneuver.wishes):
        if wish.is_ is not None:
            yield wish.is_, WISH_KINDS[wish.what], ("wishes", index, "is")
    anchors = [(("callouts", n, "at"), one.at) for n, one in enumerate(maneuver.callouts)]
    anchors += [
        (("checkpoints", n, "at"), one.at)
        for n, one in enumerate(maneuver.checkpoints)
        if one.at is not None
    ]
    for at, anchor in anchors:
        if anchor.speed is not None:
            yield anchor.speed, "speed", (*at, "speed")
