"""What no single value of a script shows: names that lead nowhere, quantities of the wrong kind."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from coach.problems import nearest
from coach.script.maneuver import EXTREMES, WISH_KINDS, Maneuver, number, split_base
from coach.script.quantities import parse
from coach.script.reading import Place

_RANGES = {
    "time": (0.1, 1800.0, "0.1 s to 30 min"),
    "number": (0.0, 3.0, "0 to 3"),  # beyond it a change overshoots: see `motion.Course`
    "angle": (-1.2, 1.2, "no more than 68 deg"),
    "share": (0.0, 1.0, "0 to 100 %"),
}
"""What a leg or an unknown may be: the model and its search hold no further."""


def faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    """Names that lead nowhere, quantities of the wrong kind, times that run backwards."""
    yield from _leg_faults(maneuver)
    yield from _checkpoint_faults(maneuver)
    yield from _unknown_faults(maneuver)
    yield from _wish_faults(maneuver)
    yield from _callout_faults(maneuver)


def _unknown_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    kinds = {name: kind for name, kind, _ in maneuver.uses() if name in maneuver.unknowns}
    for name, unknown in maneuver.unknowns.items():
        place = ("unknowns", name)
        if name not in kinds:
            yield place, f"the unknown '{name}' is used by no leg and not as the power"
            continue
        values = []
        for key, written in (
            ("from", unknown.from_),
            ("start", unknown.start),
            ("to", unknown.to),
        ):
            try:
                values.append(number(kinds[name], written))
            except ValueError as error:
                yield (*place, key), f"{key}: {error}"
                continue
            if not _possible(kinds[name], values[-1]):
                yield (*place, key), f"{key}: found {written}, expected {_RANGES[kinds[name]][2]}"
        if len(values) == 3 and not values[0] <= values[1] <= values[2]:
            yield place, f"the unknown '{name}' must have from <= start <= to"


def _possible(kind: str, value: float) -> bool:
    low, high, _ = _RANGES[kind]
    return low <= value <= high


def _leg_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    for written, kind, place in maneuver.uses():
        if written not in maneuver.unknowns:
            try:
                value = number(kind, written)
            except ValueError as error:
                hint = nearest(written, maneuver.unknowns) if re.match(r"[a-z]", written) else ""
                yield place, f"{place[-1]}: {error}, or the name of an unknown{hint}"
                continue
            if not _possible(kind, value):
                key = "rates" if kind == "number" else place[-1]
                yield place, f"{key}: found {written}, expected {_RANGES[kind][2]}"
    names = [leg.name for leg in maneuver.legs]
    for index, leg in enumerate(maneuver.legs):
        if leg.name in names[:index]:
            yield ("legs", index, "name"), f"a second leg is named '{leg.name}'"
        if leg.pitch and leg.path:
            yield ("legs", index, "path"), "a leg gives either pitch or path, not both"


def _checkpoint_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    legs = [leg.name for leg in maneuver.legs]
    last = -1
    for index, checkpoint in enumerate(maneuver.checkpoints):
        place: Place = ("checkpoints", index, "ends")
        if checkpoint.ends not in legs:
            yield place, f"there is no leg '{checkpoint.ends}'{nearest(checkpoint.ends, legs)}"
        elif legs.index(checkpoint.ends) <= last:
            yield place, "checkpoints must stand in the order of their legs, one a leg"
        else:
            last = legs.index(checkpoint.ends)
    yield from _repeated([c.name for c in maneuver.checkpoints], "checkpoints")


def _wish_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints] + list(EXTREMES)
    for index, wish in enumerate(maneuver.wishes):
        place: Place = ("wishes", index)
        kind = WISH_KINDS[wish.what]
        if wish.at not in moments:
            yield (*place, "at"), f"there is no moment '{wish.at}'{nearest(wish.at, moments)}"
        if (wish.is_ is None) == (wish.between is None):
            yield place, "a wish gives either 'is' with 'within', or 'between'"
        if wish.is_ is not None and wish.within is None:
            yield place, "the key 'within' is missing: how near is near enough"
        parts: list[tuple[str, str]] = []
        if wish.within is not None:
            parts.append(("within", wish.within))
        parts += [("between", bound) for bound in wish.between or ()]
        if wish.is_ is not None:
            base, rest = split_base(wish.is_)
            if base == "stall" and wish.what != "speed":
                yield (*place, "is"), "only a speed can be compared with the stall"
            if rest:
                parts.append(("is", rest))
        for key, written in parts:
            try:
                parse(kind, written)
            except ValueError as error:
                yield (*place, key), f"{key}: {error}"


def _callout_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    legs = [leg.name for leg in maneuver.legs]
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints]
    for index, callout in enumerate(maneuver.callouts):
        place: Place = ("callouts", index, "at")
        given = [
            key
            for key in ("checkpoint", "leg", "turned", "speed")
            if getattr(callout.at, key) is not None
        ]
        if len(given) != 1:
            yield place, "a callout is anchored by one of checkpoint, leg, turned or speed"
        at, leg = callout.at.checkpoint, callout.at.leg
        if at is not None and at not in moments:
            yield (*place, "checkpoint"), f"no checkpoint '{at}'{nearest(at, moments)}"
        if leg is not None and leg not in legs:
            yield (*place, "leg"), f"there is no leg '{leg}'{nearest(leg, legs)}"


def _repeated(names: Sequence[str], key: str) -> Iterable[tuple[Place, str]]:
    for index, name in enumerate(names):
        if name in names[:index]:
            yield (key, index, "name"), f"'{name}' stands here a second time"
