"""The airplane's own numbers as a script may name them: speeds, flaps, gear, power settings.

What the airplane has not got is "", and is not said. Where its file is silent a phrase defers to
its handbook.
"""

from __future__ import annotations

from collections.abc import Iterable
from string import Formatter

from coach.flight.airplane import Airplane, Powers
from coach.script.maneuver import Maneuver
from coach.script.quantities import DEGREE, KNOT

SPEEDS = {
    "rotation": "rotation speed",
    "best_angle": "best-angle speed",
    "best_rate": "best-rate speed",
    "approach": "approach speed",
    "short_field": "short-field speed",
    "flaps_extended": "flap speed",
    "gear_operating": "gear speed",
}
"""The speeds that may be named, and what each is called where the file does not give it."""

FLAPS = {
    "first_flaps": "first flaps",
    "more_flaps": "more flaps",
    "landing_flaps": "full flaps",
    "less_flaps": "flaps up one step",
    "flaps_up": "flaps up",
}
"""Steps of the flaps, and what is said of them where the file does not name the steps."""

GEAR = {"gear_down": "gear down", "gear_up": "gear up"}

POWERS = {f"{name}_power": f"{name.replace('_', '-')} power" for name in Powers.model_fields}
"""Power settings, and what each is called where the file does not give it."""


def own(airplane: Airplane) -> dict[str, str]:
    """Each of its numbers and steps in words, by the name that a script has for it."""
    return {**_speeds(airplane), **_flaps(airplane), **_gear(airplane), **_powers(airplane)}


def silent(airplane: Airplane) -> frozenset[str]:
    """The names of what its file does not say, and for which its handbook stands."""
    given = {f"{name}_power": setting for name, setting in airplane.power}
    given |= {name: getattr(airplane.speeds, name) for name in SPEEDS}
    given |= dict.fromkeys(FLAPS, airplane.flaps) | dict.fromkeys(GEAR, airplane.gear)
    return frozenset(name for name in given if given[name] is None and own(airplane)[name])


def fields(maneuver: Maneuver) -> frozenset[str]:
    """The names in braces in everything that a script says."""
    said = (phrasing for callout in maneuver.callouts for phrasing in callout.say)
    return named((*maneuver.introduction, *said))


def named(phrasings: Iterable[str]) -> frozenset[str]:
    """The names in braces in some phrasings."""
    return frozenset(field for one in phrasings for _, field, *_ in Formatter().parse(one) if field)


def _speeds(airplane: Airplane) -> dict[str, str]:
    found = {}
    for name, called in SPEEDS.items():
        speed = getattr(airplane.speeds, name)
        found[name] = f"your handbook's {called}" if speed is None else f"{speed / KNOT:.0f} kt"
    if airplane.flaps == ():
        found["flaps_extended"] = ""
    if airplane.gear == "fixed":
        found["gear_operating"] = ""
    return found


def _flaps(airplane: Airplane) -> dict[str, str]:
    """The steps: the second is the one for base, where there is a third; one less goes around."""
    if airplane.flaps is None:
        return FLAPS
    steps = [f"flaps {step / DEGREE:.0f}" for step in airplane.flaps]
    if not steps:
        return dict.fromkeys(FLAPS, "")
    return {
        "first_flaps": steps[0] if len(steps) > 1 else "",
        "more_flaps": steps[1] if len(steps) > 2 else "",
        "landing_flaps": steps[-1],
        "less_flaps": steps[-2] if len(steps) > 1 else "flaps up",
        "flaps_up": "flaps up",
    }


def _gear(airplane: Airplane) -> dict[str, str]:
    match airplane.gear:
        case None:
            return dict.fromkeys(GEAR, "gear as your handbook says")
        case "fixed":
            return dict.fromkeys(GEAR, "")
    return GEAR


def _powers(airplane: Airplane) -> dict[str, str]:
    return {
        f"{name}_power": f"your handbook's {POWERS[f'{name}_power']}"
        if setting is None
        else setting.text
        for name, setting in airplane.power
    }
