"""Everybody in one picture: the taps at each checkpoint, early below and late above, and the bank.

Each panel is there where somebody tapped, or flew with the hand.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from coach.debrief.gauging import Gauged, gauged
from coach.debrief.limits import ON_TIME_S
from coach.drawing import banks
from coach.drawing.figure import WIDE, Target, foot, head, picture, plain
from coach.drawing.palette import BAND, GREY, INK, STUDENTS
from coach.hand.motion import Motion
from coach.logbook.run import Run
from coach.words import counted, titled

if TYPE_CHECKING:
    from coach.drawing.plotting import Axes

FEW = 12
"""So many students can be told apart by a letter each; more would be a crowd of letters."""


def draw(runs: Sequence[Run], target: Target, *, names: bool) -> None:
    """Draw the runs of a room.

    Args:
        runs: of the same rehearsal, one for each student.
        target: where to.
        names: whether to say whose taps and hands they are.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    # Of what they tapped alone: how a hand flew is seen below, and takes its time to be judged.
    judged = [gauged(replace(run, motion=Motion())) for run in runs]
    lettered = names and len(judged) <= FEW
    run = runs[0]
    flown = [at for at, one in enumerate(runs) if len(one.motion)]
    tapped = not flown or any(one.taps for one in runs)
    panels = int(tapped) + bool(flown)
    with picture(target, WIDE, 6.2 * panels) as figure:
        places = figure.subplots(panels, squeeze=False)[:, 0]
        if tapped:
            _panel(places[0], judged, lettered=lettered)
        if flown:
            letters = [_letter(at) for at in flown] if lettered else ()
            banks.panel(places[-1], [runs[at] for at in flown], letters)
        head(figure, f"{titled(run.title, run.airplane)}, {counted(len(runs), 'student')}")
        if names:
            foot(figure, _named(runs), 12, wrap=True)


def _panel(axes: Axes, judged: Sequence[Gauged], *, lettered: bool) -> None:
    """Everybody's taps, checkpoint beside checkpoint."""
    longest = max(judged, key=lambda one: len(one.verdicts))
    axes.axhspan(-ON_TIME_S, ON_TIME_S, color=BAND, zorder=0)
    axes.axhline(0.0, color=GREY, linewidth=0.8)
    for at in range(len(longest.verdicts)):
        _taps(axes, judged, at, lettered=lettered)
        middle = _middle(judged, at)
        if middle is not None:
            axes.plot(at, middle, "_", color=INK, markersize=24, markeredgewidth=2.5)
    axes.set_xticks(
        range(len(longest.verdicts)),
        [_label(judged, at, row.loop, row.name) for at, row in enumerate(longest.verdicts)],
        rotation=60 if len(longest.verdicts) > 10 else 0,
        fontsize=11,
    )
    axes.set_ylabel("seconds early (below) and late (above)", fontsize=12)
    axes.set_xlim(-0.6, max(len(longest.verdicts), 1) - 0.4)
    far = max(1.0, *(abs(limit) for limit in axes.get_ylim()))
    axes.set_ylim(-far, far)
    plain(axes, 11)
    axes.set_title(
        f"each {'letter' if lettered else 'dot'} a tap, the bar the middle one; "
        f"grey: within {ON_TIME_S:g} s; "
        "below a checkpoint: how many tapped it",
        fontsize=11,
        color=INK,
    )


def _taps(axes: Axes, judged: Sequence[Gauged], at: int, *, lettered: bool) -> None:
    """Everybody's taps at one checkpoint side by side, at each in another order.

    In an order of the students' own, dots in the same place would give away whose they are; so
    would the earliest on the left at every checkpoint, who is often the same one.
    """
    found = sorted(
        (error_s, number)
        for number, one in enumerate(judged)
        if at < len(one.verdicts) and (error_s := one.verdicts[at].error_s) is not None
    )
    turned = at % max(len(found), 1)
    for place, (error_s, number) in enumerate(found[turned:] + found[:turned]):
        aside = at + (0.0 if len(found) == 1 else 0.5 * (place / (len(found) - 1) - 0.5))
        if lettered:
            axes.text(aside, error_s, _letter(number), color=STUDENTS, **_CENTRED)
            axes.plot(aside, error_s, alpha=0.0)  # text alone does not widen the axes
        else:
            axes.plot(aside, error_s, "o", color=STUDENTS, markersize=4, alpha=0.6)


_CENTRED: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 12, "fontweight": "bold"}


def _letter(number: int) -> str:
    return chr(ord("A") + number)


def _named(runs: Sequence[Run]) -> str:
    """Whose letter is whose, or only the names where there are too many for letters."""
    lettered = len(runs) <= FEW
    return ", ".join(
        f"{_letter(number)} {run.student}" if lettered else run.student
        for number, run in enumerate(runs)
    )


def _middle(judged: Sequence[Gauged], at: int) -> float | None:
    errors = [one.verdicts[at].error_s for one in judged if at < len(one.verdicts)]
    found = [error for error in errors if error is not None]
    return statistics.median(found) if found else None


def _label(judged: Sequence[Gauged], at: int, loop: int, name: str) -> str:
    tapped = sum(at < len(one.verdicts) and one.verdicts[at].error_s is not None for one in judged)
    return f"{loop}: {name}\n{tapped} of {len(judged)}"
