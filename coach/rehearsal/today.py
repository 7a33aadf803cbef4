"""What a student flies today: what is to be known, how long each takes, and how ready it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from coach.debrief.readiness import readiness
from coach.logbook.past import Past
from coach.practice.covered import covered
from coach.practice.lengths import lengths_s
from coach.practice.schedule import Practice, practice
from coach.shelf import AIRPLANE

if TYPE_CHECKING:
    from coach.script.standards import Checkride

MINUTES = 20
"""How much is suggested for a day where nothing else is asked for."""


def today(
    pasts: Sequence[Past],
    day: date,
    *,
    airplane: str = AIRPLANE,
    asked_at: Checkride | None = None,
    minutes: float = MINUTES,
    checkride: date | None = None,
    waiting: Callable[[], None] = lambda: None,
) -> Practice:
    """What to fly, by `coach.practice.schedule.practice`.

    Args:
        pasts: the student's.
        day: the student's own date.
        airplane: which flies, as a file or a name.
        asked_at: the checkride, as for `coach.practice.covered.covered`.
        minutes: how much time there is.
        checkride: its date, today or later.
        waiting: called once before maneuvers have to be flown, which takes seconds.
    """
    wanted = covered(pasts, asked_at)
    shares = {past.maneuver: readiness(past.recent, day).share for past in pasts}
    return practice(
        pasts,
        lengths_s(airplane, wanted.maneuvers, _length_s(airplane), waiting),
        today=day,
        minutes=minutes,
        checkride=checkride,
        readiness={name: share for name, share in shares.items() if share is not None},
        why=wanted.why,
    )


def _length_s(airplane: str) -> Callable[[str], float]:
    def length_s(maneuver: str) -> float:
        # Seldom needed, and long to import.
        from coach.flight.day import Day
        from coach.rehearsal.ready import fly

        return fly(maneuver, airplane, Day()).length_s

    return length_s
