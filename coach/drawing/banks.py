"""Everybody's bank over the planned one: the hands of a room, flown together."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from coach.debrief.limits import PLAIN
from coach.drawing.figure import plain, room_for_trace
from coach.drawing.palette import BAND, FLOWN, INK, PAPER, SEAM, STUDENTS
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ
from coach.logbook.run import Run

if TYPE_CHECKING:
    from coach.drawing.plotting import Axes

FEWEST = 3
"""So many hands have a middle one."""

APART = 0.022
"""How far apart checkpoints are named at least, as a share of the panel's width."""


def panel(axes: Axes, runs: Sequence[Run], letters: Sequence[str] = ()) -> None:
    """Draw everybody's bank, less its noise and where it was seen, over what was planned.

    Args:
        axes: where to.
        runs: of the same rehearsal, each with a `Motion`.
        letters: of each, to be written on its line; without them nothing tells whose is whose.
    """
    run = runs[0]
    planned_s = np.asarray(run.trace["t_s"]) / run.pace
    planned = np.asarray(run.trace["bank_deg"])
    instants = int(run.trace["t_s"][-1] * RATE_HZ) + 1
    time_s = np.arange(instants) / RATE_HZ / run.pace
    banks = [one.motion.smooth.part(0, instants)[0][1] for one in runs]
    few = len(banks) < FEWEST
    near = _near(run)
    axes.fill_between(planned_s, planned - near[0], planned + near[1], color=BAND, linewidth=0.0)
    # In an order of their own, not that in which the students came.
    for bank in sorted(banks, key=lambda one: one.tobytes()):
        axes.plot(
            time_s, bank, color=STUDENTS, linewidth=FLOWN if few else 0.8, alpha=0.9 if few else 0.5
        )
    if not few:
        axes.plot(time_s, _middle(banks), color=STUDENTS, linewidth=1.3 * FLOWN)
    axes.plot(planned_s, planned, color=INK, linewidth=FLOWN, linestyle="--")
    for place, (bank, letter) in enumerate(zip(banks, letters, strict=False)):
        _write(axes, time_s, bank, letter, (place + 0.5) / len(letters))
    axes.set_xlim(0.0, planned_s[-1])
    room_for_trace(axes)
    _checkpoints(axes, run)
    axes.set_ylabel("bank, right above, degrees", fontsize=12)
    plain(axes, 11)
    middle = "" if few else ", thick: the middle one"
    axes.set_title(
        f"each line a hand{middle}; dashed: as planned, grey: within {max(near):g} degrees of it",
        fontsize=11,
        color=INK,
    )


def _near(run: Run) -> tuple[float, float]:
    """How far below and above the planned bank is right: by the checkride, or else plainly."""
    limit = next((one for one in run.tolerances if one.of == "bank"), PLAIN["bank"])
    return limit.below, limit.above


def _middle(banks: Sequence[Floats]) -> Floats:
    """The middle bank at every time, where most were seen."""
    every = np.stack(banks)
    most = np.isfinite(every).sum(axis=0) > len(banks) / 2.0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # nobody was seen
        return np.where(most, np.nanmedian(every, axis=0), np.nan)


def _write(axes: Axes, time_s: Floats, bank: Floats, letter: str, share: float) -> None:
    """A letter on a line, at that share of the run or where it is seen next."""
    seen = np.flatnonzero(np.isfinite(bank))
    if len(seen):
        at = seen[np.argmin(np.abs(seen - share * len(bank)))]
        axes.text(time_s[at], bank[at], letter, **_LETTER)


_LETTER: dict[str, Any] = {
    "ha": "center",
    "va": "center",
    "fontsize": 12,
    "fontweight": "bold",
    "color": STUDENTS,
    "bbox": {"boxstyle": "circle,pad=0.15", "facecolor": PAPER, "edgecolor": STUDENTS},
}


def _checkpoints(axes: Axes, run: Run) -> None:
    """A seam at each, and the names of those that do not stand on one another."""
    last_s = axes.get_xlim()[1]
    named: list[tuple[float, str]] = []
    for moment in run.moments:
        at_s = moment.time_s / run.pace
        axes.axvline(at_s, color=INK, **SEAM)
        if not named or at_s - named[-1][0] > APART * last_s:
            named.append((at_s, f"{moment.loop}: {moment.name}"))
    times = [at_s for at_s, _ in named]
    axes.set_xticks(times, [name for _, name in named], rotation=60, fontsize=11)
