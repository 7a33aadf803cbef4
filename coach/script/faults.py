"""What no single value of a script shows: names that lead nowhere, quantities of the wrong kind."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from coach.problems import nearest
from coach.script.legs import Leg
from coach.script.maneuver import EXTREMES, WISH_KINDS, Anchor, Maneuver
from coach.script.quantities import parse
from coach.script.reading import Place
from coach.script.targets import parse_target
from coach.script.written import number, targets, uses

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
    kinds = {name: kind for name, kind, _ in uses(maneuver) if name in maneuver.unknowns}
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
    low, high, _ = _RANGES.get(kind, (-math.inf, math.inf, ""))
    return low <= value <= high or math.isnan(value)  # nan: a power as needed


def _leg_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    for written, kind, place in uses(maneuver):
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
    for written, kind, place in targets(maneuver):
        try:
            parse_target(kind, written)
        except ValueError as error:
            yield place, f"{place[-1]}: {error}"
    for index, leg in enumerate(maneuver.legs):
        for key, sentence in _leg_shape(leg):
            yield ("legs", index, key), sentence
    yield from _repeated([leg.name for leg in maneuver.legs], "legs")


def _leg_shape(leg: Leg) -> Iterable[tuple[str, str]]:
    """What a leg must not leave out, or say twice."""
    sideways = [key for key in ("bank", "turn", "circle", "track", "pylon") if getattr(leg, key)]
    upright = [key for key in ("pitch", "path", "altitude") if getattr(leg, key)]
    for given in (sideways, upright):
        if len(given) > 1:
            yield given[1], f"a leg gives either {given[0]} or {given[1]}, not both"
    if leg.turn is not None and (leg.turn.bank is None) == (leg.turn.rate is None):
        yield "turn", "a turn gives either its bank or its rate"
    laws = [law for law in (leg.turn, leg.circle, leg.pylon) if law is not None]
    goals = [getattr(law, goal, None) for law in laws for goal in ("to", "through", "onto")]
    if sum(end is not None for end in (leg.time, leg.until, *goals)) != 1:
        yield "name", "a leg ends by one of time, until, or what it turns through, to or onto"
    if leg.until is not None and len(leg.until.model_fields_set) != 1:
        yield "until", "a leg is over when one thing comes true: give one"
    if not leg.scheduled:
        for key in ("bank", "pitch"):
            if getattr(leg, key):
                yield key, f"{key} changes over a leg that has a time and holds nothing"


def _checkpoint_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    legs = [leg.name for leg in maneuver.legs]
    for index, checkpoint in enumerate(maneuver.checkpoints):
        place: Place = ("checkpoints", index)
        if (checkpoint.ends is None) == (checkpoint.at is None):
            yield place, "a checkpoint gives either 'ends', a leg, or 'at', a moment"
        elif checkpoint.ends is not None and checkpoint.ends not in legs:
            offer = nearest(checkpoint.ends, legs)
            yield (*place, "ends"), f"there is no leg '{checkpoint.ends}'{offer}"
        elif checkpoint.at is not None:
            yield from _anchor_faults(checkpoint.at, legs, [], (*place, "at"))
    yield from _repeated([c.name for c in maneuver.checkpoints], "checkpoints")


def _wish_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints] + list(EXTREMES)
    for index, wish in enumerate(maneuver.wishes):
        place: Place = ("wishes", index)
        if wish.at not in moments:
            yield (*place, "at"), f"there is no moment '{wish.at}'{nearest(wish.at, moments)}"
        if (wish.is_ is None) == (wish.between is None):
            yield place, "a wish gives either 'is' with 'within', or 'between'"
        if wish.is_ is not None and wish.within is None:
            yield place, "the key 'within' is missing: how near is near enough"
        parts = [("within", wish.within)] if wish.within is not None else []
        parts += [("between", bound) for bound in wish.between or ()]
        for key, written in parts:
            try:
                parse(WISH_KINDS[wish.what], written)
            except ValueError as error:
                yield (*place, key), f"{key}: {error}"


def _callout_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    legs = [leg.name for leg in maneuver.legs]
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints]
    for index, callout in enumerate(maneuver.callouts):
        yield from _anchor_faults(callout.at, legs, moments, ("callouts", index, "at"))


def _anchor_faults(
    anchor: Anchor, legs: list[str], moments: list[str], place: Place
) -> Iterable[tuple[Place, str]]:
    crossings = [key for key in ("turned", "speed", "height") if getattr(anchor, key) is not None]
    if len(crossings) > 1 or (anchor.checkpoint is None) == (not crossings and anchor.leg is None):
        yield place, "a moment is one of a checkpoint, a leg, turned, speed or height"
    if anchor.roll_out and (anchor.leg is None or crossings):
        yield place, "a roll out is that of a leg: give 'leg' and nothing else beside it"
    if anchor.checkpoint is not None and anchor.checkpoint not in moments:
        offer = nearest(anchor.checkpoint, moments)
        yield (*place, "checkpoint"), f"no checkpoint '{anchor.checkpoint}'{offer}"
    if anchor.leg is not None and anchor.leg not in legs:
        yield (*place, "leg"), f"there is no leg '{anchor.leg}'{nearest(anchor.leg, legs)}"


def _repeated(names: Sequence[str], key: str) -> Iterable[tuple[Place, str]]:
    for index, name in enumerate(names):
        if name in names[:index]:
            yield (key, index, "name"), f"'{name}' stands here a second time"
