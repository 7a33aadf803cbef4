"""How much and how often somebody may send."""

from __future__ import annotations

import math

MESSAGE_BYTES = 4096
"""The largest message or request a browser may send."""

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


class Joins(Allowance):
    """New students: for each address a class at once, since its phones may share one, then few.

    So whoever has the code fills no room with names that the instructor would have to take out.
    """

    def __init__(self) -> None:
        """Nobody has joined yet."""
        super().__init__(at_once=40, per_s=1 / 10)


class Guesses:
    """Wrong codes: each address may give some of its own, then all share what there is for all.

    So whoever guesses without end makes those wait who share the address with them, and elsewhere
    only those who have mistyped all their own.

    A code is one of a million, so n guesses hit it with a chance of n in a million. In a lesson of
    two hours one address has 5 + 12 of its own and the 60 + 720 of all: 0.08 %. Somebody who takes
    all 254 addresses of a small network has 254 * 17 + 780: 0.5 %; in the twelve hours of a room
    it is 254 * 77 + 4,380: 2.4 %. Who hits it is one more in the instructor's
    list, to be taken out.
    """

    def __init__(self) -> None:
        """Nobody has guessed yet."""
        self._own = Allowance(at_once=5, per_s=1 / 600)
        self._shared = Allowance(at_once=60, per_s=1 / 10)

    def wait_s(self, address: str, now_s: float) -> int:
        """Whole seconds until somebody there may give a code."""
        return min(self._own.wait_s(address, now_s), self._shared.wait_s("", now_s))

    def wrong(self, address: str, now_s: float) -> None:
        """Somebody there gave a wrong one."""
        if not self._own.take(address, now_s):
            self._shared.take("", now_s)
