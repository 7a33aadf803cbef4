"""Pitch or bank as a hand flew it over what it ought to be, with all that is near enough."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from coach.debrief.debrief import Debrief
from coach.debrief.flown import PHONE_DEG
from coach.debrief.gauging import reached
from coach.debrief.hand import Hand
from coach.debrief.limits import limit
from coach.drawing.figure import dot, room_for_trace
from coach.drawing.palette import BAND, GREY, INK, LETTERS, PAPER
from coach.hand.readings import Floats
from coach.hand.smooth import RATE_HZ
from coach.logbook.run import Run

if TYPE_CHECKING:
    from coach.drawing.labels import Place
    from coach.drawing.plotting import Axes

Of = Literal["pitch", "bank"]

DRAWN_HZ = 5.0
"""A hand's attitude is drawn so often: less its noise it bends no quicker."""

STEM = 20
"""Points of the line from what belongs at a checkpoint to what was flown there."""

MOST_DEG = 95.0
"""Nothing beyond is shown: a phone that is put away is not to make all else small."""


def near_enough(run: Run, hand: Hand, of: Of) -> tuple[Floats, Floats, Floats, Floats]:
    """What was to be flown, and how far from it is right.

    As `coach.debrief.flown` judges a checkpoint; from one to the next the limits go over evenly.

    Args:
        run: with a checkpoint at least.
        hand: the run's.
        of: which of the two angles.

    Returns:
        Own seconds, the plan, the least and the greatest that is right, degrees; shape (n,) each.
    """
    at_s = np.asarray(hand.plan.time_s, dtype=np.float64)
    belongs = np.asarray(getattr(hand.plan, f"{of}_deg"), dtype=np.float64)
    limits = [limit(run.tolerances, moment.name, of) for moment in run.moments]
    due = [moment.time_s for moment in run.moments]
    less, more = (
        np.interp(at_s, due, [getattr(one, side) for one in limits]) for side in ("below", "above")
    )
    left = (belongs < 0.0) & (of == "bank")  # there less is to the right
    rate = np.abs(np.gradient(belongs, at_s)) if len(at_s) > 1 else 0.0
    unsure = PHONE_DEG + rate * hand.motion.doubt_s
    low = belongs - np.where(left, more, less) - unsure
    high = belongs + np.where(left, less, more) + unsure
    return at_s / run.pace, belongs, low, high


def draw_hand(axes: Axes, judged: Debrief, hand: Hand, of: Of) -> Callable[[], None]:
    """Draw one angle; nothing is drawn where the hand was not seen.

    Args:
        axes: the panel, with its limits along the seconds.
        judged: the run.
        hand: its hand.
        of: which angle.

    Returns:
        What writes, once the figure keeps its limits, the angle beside the worst checkpoint of
        each loop, where that was not near enough.
    """
    run = judged.run
    own_s, belongs, low, high = near_enough(run, hand, of)
    smooth, step = hand.motion.smooth, round(RATE_HZ / DRAWN_HZ)
    seen_s = smooth.time_s[::step] / run.pace
    deg = smooth.angles_deg[("pitch", "bank").index(of), ::step]
    axes.set_ylabel(f"{of}, deg", fontsize=LETTERS)
    axes.axhline(0.0, color=GREY, linewidth=0.6)
    axes.fill_between(own_s, low, high, color=BAND, linewidth=0.0, label="within limits")
    axes.plot(own_s, belongs, color=GREY, linewidth=1.0)
    axes.plot(seen_s, deg, color=INK, linewidth=1.4, label="flown")
    rows = {row: getattr(row.flown, of) for row in judged.verdicts if row.flown}
    stems = [
        np.column_stack([np.full(STEM, row.planned_s), np.linspace(one.belongs_deg, one.deg, STEM)])
        for row, one in rows.items()
    ]
    for stem in stems:
        axes.plot(*stem.T, color=INK, linewidth=1.0)
        dot(axes, *stem[-1], clip_on=False)
    planned = [(one.time_s / run.pace, getattr(one, f"{of}_deg")) for one in reached(run)]
    circle: dict[str, Any] = {"marker": "o", "mfc": PAPER, "markersize": 5, "label": "planned"}
    axes.plot(*np.reshape(planned, (-1, 2)).T, color=INK, linestyle="", clip_on=False, **circle)
    room_for_trace(axes)
    least, most = axes.get_ylim()
    axes.set_ylim(max(least, -MOST_DEG), min(most, MOST_DEG))
    worst: dict[int, tuple[float, Place]] = {}
    for row, one in rows.items():
        if one.word != "on time":
            found = (one.share, (row.planned_s, one.deg))
            worst[row.loop] = max(worst.get(row.loop, found), found)
    lines = [np.column_stack([own_s, belongs]), np.column_stack([seen_s, deg]), *stems]
    return partial(_label, axes, lines, planned, [place for _, place in worst.values()])


def _label(axes: Axes, lines: list[Floats], planned: list[Place], wrong: list[Place]) -> None:
    from coach.drawing.labels import Space

    if not wrong:
        return
    space = Space(axes, lines)
    space.keep_free([*planned, *wrong])
    for at_s, deg in wrong:
        words = f"{round(deg)}°".replace("-", "\N{MINUS SIGN}")
        space.write(words, (at_s, deg), LETTERS, INK, (1.0, 2.0))
