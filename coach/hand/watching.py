"""What is wrong with what a phone's sensor gives, or why it gives nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from coach.hand.readings import NONE, Readings, spread_deg
from coach.hand.smooth import FROZEN_S, LEAST_HZ, LYING_S, STILLEST_DEG

SILENT_S = 1.5
"""A phone from which nothing came for so long gives nothing; it sends about ten times a second."""

WATCHED_S = LYING_S
"""So much of what came last is looked at."""

What = Literal[
    "no sensor",
    "refused",
    "unasked",
    "hidden",
    "gone",
    "taken over",
    "silent",
    "few",
    "frozen",
    "lying",
]


@dataclass(frozen=True)
class Trouble:
    """Something wrong.

    Attributes:
        what: which.
        sentence: that and what to do, for the student.
    """

    what: What
    sentence: str


_SENTENCES: dict[What, str] = {
    "no sensor": "This phone's browser tells no attitude: try another browser or another phone.",
    "refused": "The browser was not allowed to tell how the phone is held: allow this page the "
    "motion sensors in its settings, and load it again.",
    "unasked": "The phone has still to be asked how it is held: press the large button on it.",
    "hidden": "The phone's page is not in sight, so nothing is read: unlock the phone and bring "
    "the page back.",
    "gone": "The phone has lost its connection: it comes back by itself while its page is open and "
    "it is in the same network.",
    "taken over": "Another phone is the hand now: enter the code again to have this one back.",
    "silent": "No readings come from the phone: unlock it, and keep its page in sight.",
    "few": "The phone gives too few readings a second to follow a hand: switch its power saving "
    "off, and close what else it runs.",
    "frozen": "The phone's readings do not change at all: take it up if it lies somewhere, else "
    "load its page again.",
    "lying": "The phone lies stiller than in any hand: take it up.",
}

TROUBLES: dict[What, Trouble] = {what: Trouble(what, words) for what, words in _SENTENCES.items()}
"""All there are. Those from silent on are seen in the readings, the others known from elsewhere."""


class Watch:
    """Looks at one phone's readings as they come, all on one clock."""

    def __init__(self, now_s: float) -> None:
        """Begin.

        Args:
            now_s: from when on readings are expected.
        """
        self._heard_s = now_s
        self._seen = NONE

    def feed(self, readings: Readings, now_s: float) -> Trouble | None:
        """Take what came, and say what is wrong.

        Args:
            readings: what came since the last time, later than all before; may be none.
            now_s: the time, on the readings' clock.

        Returns:
            The gravest trouble now; None where all is well, or too little came yet to say.
        """
        if len(readings):
            self._heard_s = now_s
            self._seen = self._seen.joined(readings).last(WATCHED_S)
        if now_s - self._heard_s > SILENT_S:
            return TROUBLES["silent"]
        what = wrong(self._seen)
        return TROUBLES[what] if what else None


def wrong(readings: Readings) -> What | None:
    """What is wrong with the last `WATCHED_S` of readings, as far as they show it."""
    seen = readings.last(WATCHED_S)
    if len(seen) > 3 and float(np.median(np.diff(seen.at_s))) > 1.0 / LEAST_HZ:
        return "few"
    late = seen.last(FROZEN_S)
    if late.lasts_s >= 0.8 * FROZEN_S and bool((late.up == late.up[0]).all()):
        return "frozen"
    if seen.lasts_s >= 0.9 * WATCHED_S and spread_deg(seen.up) < STILLEST_DEG:
        return "lying"
    return None
