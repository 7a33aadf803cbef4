"""How loud it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.ears.segments import Samples


@dataclass(frozen=True)
class Level:
    """How loud a block of a few hundredths of a second was.

    Attributes:
        at: on `time.perf_counter`.
        power: mean square, full scale 1.
        peak: the largest sample, full scale 1.
    """

    at: float
    power: float
    peak: float


def level(at: float, samples: Samples) -> Level:
    """How loud samples are, the first of which came at ``at``."""
    power = float(np.square(samples).mean()) if len(samples) else 0.0
    return Level(at, power, float(np.abs(samples).max(initial=0.0)))
