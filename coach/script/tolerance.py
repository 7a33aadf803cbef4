"""What may be off by how much at a checkpoint, in a pilot's units, as a run keeps it.

By itself, because whoever looks at runs needs it and need not wait for all that reads a script.
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.script.asked import ASKED, Asked


@dataclass(frozen=True)
class Tolerance:
    """How far off one number is still right, by somebody's standard.

    Attributes:
        of: which number.
        below: so much less is right, in the number's unit (degrees, knots, feet); not negative.
        above: so much more; not negative, and both together more than 0.
        at: the checkpoints at which it holds; none named is everywhere.
        source: whose it is, such as ``"commercial checkride, FAA-S-ACS-7, task V.D"``.
    """

    of: Asked
    below: float
    above: float
    at: tuple[str, ...] = ()
    source: str = ""

    def holds(self, name: str) -> bool:
        """Whether it holds at a checkpoint."""
        return not self.at or name in self.at

    def share(self, off: float) -> float:
        """How large an error is: 0 is none, 1 is just within, 2 as far beyond as it is wide.

        Args:
            off: what was there less what belongs, in the number's unit.
        """
        size = abs(off)
        within = self.above if off >= 0.0 else self.below
        if size <= within:
            return size / within if size else 0.0
        return 1.0 + (size - within) / ((self.below + self.above) / 2.0)

    @property
    def words(self) -> str:
        """``"10 kt"``, ``"+10 −0 kt"``, ``"10° of heading"``."""
        sign = ASKED[self.of].sign or "°"
        size = (
            f"{self.above:g}{sign}"
            if self.above == self.below
            else f"+{self.above:g} \N{MINUS SIGN}{self.below:g}{sign}"
        )
        return f"{size} of {self.of}" if sign == "°" else size
