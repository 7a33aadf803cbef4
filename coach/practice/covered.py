"""Which maneuvers a student is to know: those of the syllabus, and what they took up themselves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from coach.logbook.past import Past
from coach.script import catalog

if TYPE_CHECKING:
    from coach.script.standards import Checkride


def covered(pasts: Iterable[Past], checkride: Checkride | None = None) -> list[str]:
    """The maneuvers to be known, in the order in which they are begun.

    A maneuver of one's own comes first, once it was flown; one that only lies in the folder may be
    a sketch, or somebody else's.

    Args:
        pasts: one student's.
        checkride: for what may be asked there alone; None for all.
    """
    everything = catalog.syllabus()
    known = catalog.names("maneuvers")
    own = [past.maneuver for past in pasts if past.maneuver not in everything]
    return [name for name in own if name in known] + catalog.syllabus(checkride)
