"""The form that chooses, field by field with its words: what the page builds it from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coach.callouts.support import SUPPORTS
from coach.flight.day import CHOICES, Choice
from coach.page.alone.chosen import LONGEST_VALUE
from coach.page.server.names import LONGEST
from coach.script import pace as paces
from coach.script.standards import CHECKRIDES
from coach.settings import Settings
from coach.shelf import AIRPLANE

FIRST = {"maneuver": "lazy-eight", "airplane": AIRPLANE, "pace": "1"}
"""What is chosen where nothing was chosen before."""

_COMMONEST = ("wind", "weight", "altitude", "ground", "temperature")
"""The choices of the day that stand first."""

_SUPPORTS = {"auto": "as my last runs suggest"} | {
    name: level.choice for name, level in SUPPORTS.items()
}

_CHECKRIDES: Mapping[str, str] = {"": "any"} | {name: name for name in CHECKRIDES}

Field = dict[str, Any]


def form(chosen: Settings) -> dict[str, Any]:
    """The fields; see `coach.page.app`. ``chosen`` has the student's checkride."""
    return {
        "student": _written(
            "student", "Your name", "only if several people share this logbook", LONGEST
        ),
        "checkride": {
            **_select("checkride", "Checkride", _CHECKRIDES),
            "value": chosen.checkride,
        },
        "day": [
            _of_the_day(name, CHOICES[name]) for name in dict.fromkeys((*_COMMONEST, *CHOICES))
        ],
        "heard": [
            _select("support", "The coach says", _SUPPORTS),
            _select("pace", "Pace", {f"{pace:g}": words for pace, words in paces.WORDS.items()}),
        ],
        "first": FIRST,
    }


def _of_the_day(name: str, choice: Choice) -> Field:
    if choice.words:
        return _select(name, choice.label, choice.words)
    if not choice.whole:
        return _written(name, choice.label, choice.hint, LONGEST_VALUE)
    limits = {"type": "number", "min": choice.least, "max": choice.most, "placeholder": choice.hint}
    return {"name": name, "label": choice.label, "input": limits}


def _written(name: str, label: str, placeholder: str, longest: int) -> Field:
    limits = {"placeholder": placeholder, "maxlength": longest, "autocomplete": "off"}
    return {"name": name, "label": label, "input": limits}


def _select(name: str, label: str, options: Mapping[str, str]) -> Field:
    return {"name": name, "label": label, "options": list(options.items())}
