"""An attempt that is flown with a phone: what it reads, put where the sound was then."""

from __future__ import annotations

import math
from collections.abc import Iterable

from coach.callouts.support import SUPPORTS
from coach.hand.grip import Grip
from coach.hand.motion import Motion
from coach.hand.readings import Readings
from coach.page.alone.messages import Now
from coach.page.server.clocks import Loudspeaker
from coach.rehearsal.moving import Moving
from coach.rehearsal.ready import Rehearsal
from coach.rehearsal.steering import Stage

UNTOLD_S = 3.0
"""A page tells four times a second what is heard, in the background once: what it has told nothing
of for so long is not heard."""


class Flown:
    """One attempt, and the hand that flies it. It does no input or output.

    Every time is on `time.perf_counter`.

    Attributes:
        run: the attempt's name.
    """

    def __init__(self, run: str, rehearsal: Rehearsal, tone_deg: float) -> None:
        """Nothing is heard or read yet.

        Args:
            run: the attempt's name.
            rehearsal: what is flown, a whole one.
            tone_deg: further off than this is told by a tone; 0 for never.
        """
        self.run = run
        self._sheet = rehearsal.sheet
        self._moving = Moving(rehearsal, tone_deg=tone_deg)
        self._loudspeaker = Loudspeaker()
        self._told_s, self._over_s = -math.inf, math.inf

    def heard(self, at_s: float, position_s: float, playing: bool) -> None:
        """That was heard then, and went on or stood."""
        self._loudspeaker.heard(at_s, position_s, playing)
        self._told_s = max(self._told_s, at_s)

    def over(self, at_s: float) -> None:
        """The attempt is over since then; what was read before may still come."""
        self._over_s = min(self._over_s, at_s)

    def take(self, readings: Iterable[Readings], grip: Grip, doubt_s: float) -> Motion:
        """Take what a phone has read, and how it is held.

        Args:
            readings: what has come.
            grip: how it is held, as it was shown: the count-in gives it a fresh level.
            doubt_s: the most that the clocks may be off.

        Returns:
            What is to be kept of it.
        """
        return self._moving.follow(grip, readings, self._position_s, doubt_s)

    def stage(self, at_s: float) -> Stage:
        """Where it stands then."""
        if at_s >= self._over_s:
            return "over"
        position_s = self._position_s(at_s)
        if position_s is None:
            return "paused"
        return "level" if self._sheet.flight_s(position_s) < 0.0 else "flying"

    def now(self, at_s: float) -> Now:
        """What the hand does then, as far as it is to be shown while it is flown."""
        if at_s >= self._over_s:
            return Now()
        live = self._moving.live(at_s)
        if not SUPPORTS[self._sheet.support].own:
            return Now(off=live.off)
        return Now(pitch_deg=live.pitch_deg, bank_deg=live.bank_deg, off=live.off)

    def _position_s(self, at_s: float) -> float | None:
        known = at_s < min(self._over_s, self._told_s + UNTOLD_S)
        return self._loudspeaker.position_s(at_s) if known else None
