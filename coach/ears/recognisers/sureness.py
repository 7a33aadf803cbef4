"""How sure it may be that somebody said what was understood, and that it is a mistake.

Logistic curves over a few measures, fitted on the tuning voices (`python -m tests.bench.sureness`
prints these constants).
"""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass

from coach.ears.utterance import NOISE


@dataclass(frozen=True)
class Signs:
    """What tells a phrase that was understood from one that was not.

    Attributes:
        ahead: the logarithm of the odds of its meaning against all others of the place.
        apart: how far the nearest transcript's sounds are from it, for each of its sounds.
        wrong: the logarithm of the odds that, of all that may have been said, it was a mistake.
    """

    ahead: float
    apart: float
    wrong: float


# For each of the signs, and one for none of them.
UNDERSTOOD = (0.787, -5.844, 0.0, 0.554)
MISTAKEN = (0.603, -10.375, 0.128, 1.859)

RESERVE = 2.0
"""So much larger must the logarithm of the odds be before a mistake is told: to call a right answer
wrong is worse than to leave a wrong one alone."""


def understood(signs: Signs) -> float:
    """How likely it is what was said."""
    return _share(signs, UNDERSTOOD)


def mistaken(signs: Signs) -> float:
    """How likely it is that a mistake was made, where one was understood, less the reserve."""
    sure = understood(signs)
    # Something was said all the same.
    return sure if sure <= NOISE else max(NOISE, _share(signs, MISTAKEN, RESERVE))


def odds(share: float) -> float:
    """The logarithm of the odds, within reason."""
    return math.log((share + 1e-4) / (1.0001 - share))


def _share(signs: Signs, weights: tuple[float, ...], reserve: float = 0.0) -> float:
    found = (*astuple(signs), 1.0)
    whole = math.fsum(one * weight for one, weight in zip(found, weights, strict=True)) - reserve
    return 1.0 / (1.0 + math.exp(-max(-50.0, min(50.0, whole))))
