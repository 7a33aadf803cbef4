"""Whether a hand is too far off the plan, as it flies."""

from __future__ import annotations

import math

OFF_S, BACK_S, EASED = 1.0, 0.5, 0.8
"""A hand is off that was too far off for more than so long, until it was within this share of that
for so long. In between nothing changes, so that what is shown of it does not flicker."""

LOST_S = 1.0
"""A hand of which nothing was read for so long is lost."""


class Off:
    """Whether a hand is too far off, told so that it does not flicker."""

    def __init__(self, most_deg: float) -> None:
        self.is_off = False
        self._most_deg = most_deg
        self._seen_s = -math.inf
        self._since_s: float | None = None

    def look(self, at_s: float, off_deg: float | None) -> None:
        """It is so far off at that moment of the machine's clock; None where nothing is flown."""
        lost = at_s - self._seen_s > LOST_S
        self._seen_s = at_s
        if off_deg is None or lost or not self._most_deg:
            self.is_off, self._since_s = False, None
            return
        is_other = off_deg < EASED * self._most_deg if self.is_off else off_deg > self._most_deg
        if not is_other:
            self._since_s = None
        elif self._since_s is None:
            self._since_s = at_s
        elif at_s - self._since_s >= (BACK_S if self.is_off else OFF_S):
            self.is_off, self._since_s = not self.is_off, None
