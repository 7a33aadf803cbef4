"""Least squares for what is dear to compute: slopes measured once, then learnt on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from coach.flight.history import Floats

PROBE = 1e-3
"""Share of its range by which an unknown is moved to measure a slope: a leg that a law ends is over
at a moment found along a straight, so that smaller steps would measure that."""

LONGEST = 0.3
"""Longest step of a quick search, as a share of an unknown's range."""

QUICK_STEPS = 25
"""Steps after which a quick search gives up."""


@dataclass(frozen=True)
class Found:
    """Where a quick search has come to: its unknowns, the misses there and how they change."""

    shares: Floats
    missed: Floats
    slopes: Floats


def _measured(misses: Callable[[Floats], Floats], shares: Floats, found: Floats) -> Floats:
    """How misses change with the unknowns, by forward differences; shape (misses, unknowns)."""
    step = np.where(shares < 0.5, PROBE, -PROBE)
    moved = shares + np.diag(step)
    return np.column_stack([(misses(one) - found) for one in moved]) / step


def quick(
    misses: Callable[[Floats], Floats], shares: Floats, slopes: Floats | None,
    met: Callable[[Floats], bool],
) -> Found:  # fmt: skip
    """Least squares between 0 and 1, from slopes that are measured once at most, until ``met``.

    Levenberg's and Marquardt's damped steps (any text on optimisation); after each the slopes are
    corrected by what it showed (Broyden, Mathematics of Computation 19, 1965, from memory): a
    flight instead of one for each unknown.
    """
    missed = misses(shares)
    if slopes is None:
        slopes = _measured(misses, shares, missed)
    damping = 1e-4
    for _ in range(QUICK_STEPS):
        downhill = -slopes.T @ missed
        free = ((shares > 0.0) | (downhill > 0.0)) & ((shares < 1.0) | (downhill < 0.0))
        normal = slopes[:, free].T @ slopes[:, free]
        damped = normal + damping * np.diag(np.diag(normal))
        step = np.zeros_like(shares)
        step[free] = np.linalg.solve(damped, downhill[free])
        there = np.clip(shares + np.clip(step, -LONGEST, LONGEST), 0.0, 1.0)
        step = there - shares
        if not step.any() or met(missed):
            break
        found = misses(there)
        slopes = slopes + np.outer(found - missed - slopes @ step, step) / (step @ step)
        gained = 1.0 - (found @ found) / (missed @ missed)
        if gained > 0.0:
            shares, missed, damping = there, found, damping / 5.0
        else:
            damping = max(10.0 * damping, 1e-3)
        if abs(gained) < 1e-3 or np.abs(step).max() < 1e-4:
            break
    return Found(shares, missed, slopes)
