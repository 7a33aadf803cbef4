"""How loud it is, and how far that stands out of what was heard before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.ears.bands import FRAME, Bands, Samples


@dataclass(frozen=True)
class Level:
    """How loud a block of a few hundredths of a second was.

    Attributes:
        at: on `time.perf_counter`.
        power: mean square, full scale 1.
        peak: the largest sample, full scale 1.
        stands_out_db: how far it stands out of the noise, as `coach.ears.bands.Bands` has it: what
            the cut goes by; 0 where there was too little sound to tell.
    """

    at: float
    power: float
    peak: float
    stands_out_db: float = 0.0


class Meter:
    """Takes sound as it comes and gives its levels."""

    def __init__(self) -> None:
        self._bands = Bands()
        self._rest: Samples = np.zeros(0, np.float32)

    def level(self, at: float, samples: Samples) -> Level:
        """How loud the next samples are, the first of which came at ``at``."""
        power = float(np.square(samples).mean()) if len(samples) else 0.0
        waiting = np.concatenate([self._rest, samples])
        whole = len(waiting) // FRAME * FRAME
        self._rest = waiting[whole:]
        scores = [self._bands.hear(frame) or 0.0 for frame in waiting[:whole].reshape(-1, FRAME)]
        return Level(at, power, float(np.abs(samples).max(initial=0.0)), max(scores, default=0.0))
