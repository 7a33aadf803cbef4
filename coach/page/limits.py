"""How often somebody may do something."""

from __future__ import annotations

import math

_MOST_KNOWN = 10_000


class Allowance:
    """So many at once and so many a second after that, for each somebody."""

    def __init__(self, at_once: int, per_s: float) -> None:
        self._at_once = at_once
        self._per_s = per_s
        self._left: dict[str, tuple[float, float]] = {}

    def left(self, who: str, now_s: float) -> float:
        """How many are left."""
        left, since_s = self._left.get(who, (self._at_once, now_s))
        return min(self._at_once, left + (now_s - since_s) * self._per_s)

    def take(self, who: str, now_s: float) -> bool:
        """Take one; False, and nothing taken, where none is left."""
        left = self.left(who, now_s)
        if left < 1.0:
            return False
        if len(self._left) >= _MOST_KNOWN:  # whoever has everything left need not be known
            for known in [one for one in self._left if self.left(one, now_s) >= self._at_once]:
                del self._left[known]
        self._left[who] = (left - 1.0, now_s)
        return True

    def wait_s(self, who: str, now_s: float) -> int:
        """Whole seconds until there is one again."""
        return max(0, math.ceil((1.0 - self.left(who, now_s)) / self._per_s))
