"""The form that chooses, field by field with its words: what the page builds it from."""

from __future__ import annotations

from typing import Any

from coach.callouts.support import SUPPORTS
from coach.page.alone.chosen import LONGEST_VALUE, MOST_LOOPS
from coach.page.server.names import LONGEST
from coach.script import pace as paces
from coach.shelf import AIRPLANE

FIRST = {"maneuver": "lazy-eight", "airplane": AIRPLANE, "pace": "1"}
"""What is chosen where nothing was chosen before."""

_DAY = {
    "wind": ("Wind", "as the maneuver asks, or 240@12, across@10, calm"),
    "weight": ("Weight", "gross weight, or 2300lb"),
    "altitude": ("Altitude", "as the maneuver asks, or 4500ft"),
    "ground": ("Ground", "0ft"),
    "temperature": ("Temperature", "standard day, or 30C"),
    "altimeter": ("Altimeter", "standard, or 29.80"),
    "heading": ("Heading", "as the wind asks, or 150"),
    "entry_speed": ("Entry speed", "as the maneuver asks, or 95kt"),
}
_SIDES = {"": "as usual", "right": "to the right", "left": "to the left"}
_SUPPORTS = {"auto": "as my last runs suggest"} | {
    name: level.choice for name, level in SUPPORTS.items()
}

Field = dict[str, Any]


def form() -> dict[str, Any]:
    """The fields; see `coach.page.app`."""
    return {
        "student": _written(
            "student", "Your name", "only if several people share this logbook", LONGEST
        ),
        "day": [
            *(_written(name, *words, LONGEST_VALUE) for name, words in _DAY.items()),
            _select("direction", "First turn", _SIDES),
            {
                "name": "loops",
                "label": "Loops",
                "input": {"type": "number", "min": 1, "max": MOST_LOOPS, "placeholder": "all"},
            },
        ],
        "heard": [
            _select("support", "The coach says", _SUPPORTS),
            _select("pace", "Pace", {f"{pace:g}": words for pace, words in paces.WORDS.items()}),
        ],
        "first": FIRST,
    }


def _written(name: str, label: str, placeholder: str, longest: int) -> Field:
    limits = {"placeholder": placeholder, "maxlength": longest, "autocomplete": "off"}
    return {"name": name, "label": label, "input": limits}


def _select(name: str, label: str, options: dict[str, str]) -> Field:
    return {"name": name, "label": label, "options": list(options.items())}
