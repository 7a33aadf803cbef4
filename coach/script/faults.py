"""What no single value of a script shows: names that lead nowhere, quantities of the wrong kind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from coach.problems import nearest
from coach.script.contents import Place
from coach.script.legs import Leg
from coach.script.maneuver import Anchor, Maneuver
from coach.script.targets import limited, number, uses
from coach.script.ways import Change
from coach.script.wishes import EXTREMES


def faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    """Names that lead nowhere, quantities of the wrong kind, times that run backwards."""
    if maneuver.entry.height.base not in (None, "pivotal"):
        yield ("entry", "height"), "height: expected a height above the ground, or 'pivotal'"
    yield from _leg_faults(maneuver)
    yield from _checkpoint_faults(maneuver)
    yield from _unknown_faults(maneuver)
    yield from _wish_faults(maneuver)
    yield from _callout_faults(maneuver)
    yield from _limit_faults(maneuver)


def _unknown_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    kinds = {sought.name: sought.kind for _, sought in uses(maneuver)}
    for name, unknown in maneuver.unknowns.items():
        place = ("unknowns", name)
        if name not in kinds:
            yield place, f"the unknown '{name}' is used by no leg and not as the power"
            continue
        values = []
        for key, written in (("from", unknown.from_), ("start", unknown.start), ("to", unknown.to)):
            try:
                values.append(number(kinds[name], written))
                limited(kinds[name], values[-1], written)
            except ValueError as error:
                yield (*place, key), f"{key}: {error}"
        if len(values) == 3 and not values[0] <= values[1] <= values[2]:
            yield place, f"the unknown '{name}' must have from <= start <= to"


def _leg_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    for place, sought in uses(maneuver):
        if sought.name not in maneuver.unknowns:
            hint = nearest(sought.name, maneuver.unknowns) if sought.name[0].islower() else ""
            key = next(key for key in reversed(place) if isinstance(key, str))
            yield place, f"{key}: {sought.fault}{hint}"
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
    for key in ("bank", "pitch", "path"):
        change: Change | None = getattr(leg, key)
        if change is None or (change.halfway is None and not change.steady):
            continue
        if change.halfway is not None and change.steady:
            yield key, f"{key}: give either halfway or steady, not both"
        elif not leg.scheduled:
            yield key, f"{key}: halfway and steady are for a leg that has a time and holds nothing"


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


def _limit_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    names = [checkpoint.name for checkpoint in maneuver.checkpoints]
    for row, standard in enumerate(maneuver.standard):
        for index, limit in enumerate(standard.limits):
            place: Place = ("standard", row, "limits", index)
            if limit.fault is not None:
                yield (*place, "within" if limit.of else "at"), limit.fault
            for name in limit.at or ():
                if name not in names:
                    yield (*place, "at"), f"there is no checkpoint '{name}'{nearest(name, names)}"


def _wish_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints] + list(EXTREMES)
    for index, wish in enumerate(maneuver.wishes):
        place: Place = ("wishes", index)
        for key, moment in (("at", wish.at), ("since", wish.since)):
            if moment is not None and moment not in moments:
                yield (*place, key), f"there is no moment '{moment}'{nearest(moment, moments)}"
        if (wish.is_ is None) == (wish.between is None):
            yield place, "a wish gives either 'is' with 'within', or 'between'"
        if wish.is_ is not None and wish.within is None:
            yield place, "the key 'within' is missing: how near is near enough"
        if wish.within is not None and wish.within.value <= 0.0:
            found = wish.within.written
            yield (*place, "within"), f"within: found {found}, expected more than 0"
        if wish.between is not None and wish.between[0].value >= wish.between[1].value:
            least, most = (one.written for one in wish.between)
            yield (
                (*place, "between"),
                f"between: found {least} and {most}, expected the lower one first",
            )


def _callout_faults(maneuver: Maneuver) -> Iterable[tuple[Place, str]]:
    legs = [leg.name for leg in maneuver.legs]
    moments = [checkpoint.name for checkpoint in maneuver.checkpoints]
    for index, callout in enumerate(maneuver.callouts):
        yield from _anchor_faults(callout.at, legs, moments, ("callouts", index, "at"))
        for words in callout.never_without:
            for which, phrasing in enumerate(callout.say):
                if words.lower() not in phrasing.lower():
                    place: Place = ("callouts", index, "say", which)
                    yield place, f"'{phrasing}' leaves out '{words}', which is never to be left out"


def _anchor_faults(
    anchor: Anchor, legs: list[str], moments: list[str], place: Place
) -> Iterable[tuple[Place, str]]:
    crossings = [key for key in ("turned", "speed", "height") if getattr(anchor, key) is not None]
    crossings += ["abeam"] if anchor.abeam else []
    if len(crossings) > 1 or (anchor.checkpoint is None) == (not crossings and anchor.leg is None):
        yield place, "a moment is one of a checkpoint, a leg, turned, speed, height or abeam"
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
