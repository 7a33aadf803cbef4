"""Which maneuvers a student is to know: those of the syllabus, and what they took up themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.logbook.past import Past
from coach.script import catalog

if TYPE_CHECKING:
    from coach.script.standards import Checkride


@dataclass(frozen=True)
class Covered:
    """What is to be known.

    Attributes:
        maneuvers: in the order in which they are begun.
        why: why what is new is among them, a sentence; "" where the student said what for.
    """

    maneuvers: tuple[str, ...]
    why: str


def covered(pasts: Iterable[Past], checkride: Checkride | None = None) -> Covered:
    """The maneuvers to be known.

    They are begun in the order of the syllabus, from what was flown latest on; those before it come
    last, the nearest first: who works on chandelles is not sent back to straight climbs.

    A maneuver of one's own comes first, once it was flown; one that only lies in the folder may be
    a sketch, or somebody else's.

    Args:
        pasts: one student's.
        checkride: for what may be asked there alone. With None it is for the one that alone asks
            for what was flown latest of such maneuvers, and for all else that was flown; or for
            all, where nothing of that kind was flown.
    """
    everything, known = catalog.syllabus(), catalog.names("maneuvers")
    latest = sorted(pasts, key=lambda past: past.recent[0].started, reverse=True)
    flown = [past.maneuver for past in latest]
    own = [name for name in sorted(flown) if name not in everything and name in known]
    told, sign = (checkride, "") if checkride else _inferred(flown, everything)
    asked = set(catalog.syllabus(told))
    if checkride is None:
        asked.update(flown)
    place = next((everything.index(name) for name in flown if name in everything), 0)
    order = [*everything[place:], *reversed(everything[:place])]
    return Covered(
        (*own, *(name for name in order if name in asked)),
        f"{told.capitalize()}, as {sign} is." if told and sign else "",
    )


def _inferred(flown: list[str], syllabus: list[str]) -> tuple[Checkride | None, str]:
    """The checkride of the latest maneuver flown that only one asks for, and which one that is."""
    for name in flown:
        if name in syllabus:
            asking = {one.checkride for one in catalog.standards(name)}
            if len(asking) == 1 and (only := asking.pop()):
                return only, name
    return None, ""
