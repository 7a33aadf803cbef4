"""How long maneuvers of the library take, each flown once and remembered."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterable

from coach import __version__
from coach.problems import Problem, written
from coach.script import catalog
from coach.script.contents import loaded
from coach.shelf import cache_folder, made

FILE_NAME = "lengths.json"


def lengths_s(
    airplane: str,
    maneuvers: Iterable[str],
    length_s: Callable[[str], float],
    waiting: Callable[[], None] = lambda: None,
) -> dict[str, float]:
    """The flight's length of every maneuver that this airplane can fly, in their order.

    Args:
        airplane: its name or file.
        maneuvers: their names in the library.
        length_s: flies a maneuver and says how long it took; a Problem leaves it out.
        waiting: called once before anything has to be flown, which takes seconds.
    """
    place = cache_folder() / FILE_NAME
    known: dict[str, float | None] = {}
    with contextlib.suppress(OSError, TypeError, ValueError):
        known = dict(json.loads(place.read_text(encoding="utf-8")))
    plane = loaded(catalog.find("airplanes", airplane))
    found: dict[str, float | None] = {}
    keys = {}
    for maneuver in maneuvers:
        with contextlib.suppress(Problem):  # one that cannot be read cannot be flown
            script = loaded(catalog.find("maneuvers", maneuver))
            text = b"\0".join((__version__.encode(), plane, script))
            keys[maneuver] = hashlib.sha256(text).hexdigest()[:24]
    if not all(key in known for key in keys.values()):
        waiting()
    for maneuver, key in keys.items():
        if key not in known:
            try:
                known[key] = length_s(maneuver)
            except Problem:
                known[key] = None
        found[maneuver] = known[key]
    # Without a cache everything is flown anew: slower, no worse.
    with contextlib.suppress(OSError, Problem):
        made(place.parent)
        with written(place) as part:
            part.write_text(json.dumps(known), encoding="utf-8")
    return {maneuver: length for maneuver, length in found.items() if length is not None}
