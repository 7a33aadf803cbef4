"""The debrief as one printable picture: errors, and taps over the speed and bank traces.

Its seconds are the student's own: at half pace the traces are twice as long as they were flown.
"""

from __future__ import annotations

import math
import statistics
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from coach.debrief.debrief import Debrief
from coach.debrief.gauging import ON_TIME_S
from coach.debrief.verdict import Verdict
from coach.debrief.words import facts
from coach.drawing.figure import NARROW, WIDE, Target, foot, head, picture, plain, room_for_trace
from coach.drawing.palette import BAND, GREY, INK, LETTERS, PAPER, SEAM
from coach.logbook.run import Run
from coach.words import CAUTION, titled

if TYPE_CHECKING:
    from coach.drawing.plotting import Axes, GridSpec

PANELS = (1.5, 1.1, 1.0)
"""The heights of the three panels, to each other."""

BEYOND = 0.0075
"""What is shown after the last moment, as a share of all before it."""

LEGEND_BELOW, BELOW = 0.42, 0.75
"""Inches from the lowest panel's edge to the legend, and to what may follow."""

LEGEND_IN_TWO = 6.0
"""Inches, to which the legend has two columns and not all in one line."""

LETTER = 0.075
"""The mean width of a letter, in inches."""


def draw(judged: Debrief, target: Target, *, upright: bool = False) -> None:
    """Draw a run: how early or late each tap was, and where the airplane was then.

    Args:
        judged: the run.
        target: where to.
        upright: only the panels, for a phone, where the rest is beside the picture.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    run = judged.run
    wide, high = (NARROW, 7.4) if upright else (WIDE, 8.0)
    with picture(target, wide, high) as figure:
        if not upright:
            head(figure, f"{titled(run.title, run.airplane)}\n{facts(run)}", 12)
            foot(figure, f"{judged.next}\n{textwrap.fill(CAUTION, 110)}", LETTERS)
        panels(figure.add_gridspec(3, 1, height_ratios=PANELS), judged)


def panels(places: GridSpec, judged: Debrief) -> None:
    """Draw the three panels, one below another, and their legend, which takes `BELOW` more.

    Args:
        places: three rows of one column, of `PANELS`' heights.
        judged: the run.
    """
    from coach.drawing.plotting import ScaledTranslation

    run = judged.run
    top, speed, bank = places.subplots(sharex=True, squeeze=False)[:, 0]
    ends = [moment.time_s for moment in run.moments] + run.trace.get("t_s", []) + [1.0]
    taps = [0.0, *(tap.time_s for tap in judged.taps)]
    last = max(max(ends) / run.pace, *taps)
    bank.set_xlim(min(taps), last * (1.0 + BEYOND))
    _errors(top, judged)
    _trace(speed, judged, "ias_kt", "airspeed, kt")
    _trace(bank, judged, "bank_deg", "bank, deg")
    bank.axhline(0.0, color=GREY, linewidth=0.6)
    for axes in (top, speed, bank):
        _seams(axes, run)
        plain(axes, LETTERS)
    loops = {moment.loop for moment in run.moments}
    for loop in loops if len(loops) > 1 else ():
        times = [moment.time_s / run.pace for moment in run.moments if moment.loop == loop]
        top.text(statistics.fmean(times), 1.0, f"loop {loop}", **_above(top))
    if run.ended != "finished":
        end = run.reached_s / run.pace
        for axes in (top, speed, bank):
            axes.axvline(end, color=INK, linewidth=1.0, linestyle="--")
        top.text(end, 0.97, f" {run.ended}", **{**_above(top), "ha": "left", "va": "top"})
    own = "" if run.pace == 1.0 else ", in your own seconds"
    bank.set_xlabel(f"seconds from the start of the maneuver{own}", fontsize=LETTERS)
    named: dict[str, Any] = {}
    for axes in (top, speed):
        marks, labels = axes.get_legend_handles_labels()
        named.update(zip(labels, marks, strict=True))
    lower_edge = bank.transAxes + ScaledTranslation(0.0, -LEGEND_BELOW, bank.figure.dpi_scale_trans)
    bank.legend(
        named.values(),
        named,
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        bbox_transform=lower_edge,
        ncols=6 if bank.figure.get_figwidth() > LEGEND_IN_TWO else 2,
        columnspacing=1.2,
        handletextpad=0.4,
        fontsize=LETTERS,
        frameon=False,
    )


def _errors(axes: Axes, judged: Debrief) -> None:
    """A stem for each tapped checkpoint, late upwards; a mark for each missed or not perceived."""
    axes.axhspan(-ON_TIME_S, ON_TIME_S, color=BAND, label=f"on time (within {ON_TIME_S:g} s)")
    axes.axhline(0.0, color=INK, linewidth=0.8)
    for how, fill, label in (("key", INK, "error"), ("voice", PAPER, "error, by voice")):
        rows = [row for row in judged.verdicts if row.how == how]
        planned, errors = [row.planned_s for row in rows], [row.error_s or 0.0 for row in rows]
        axes.vlines(planned, 0.0, errors, color=INK, linewidth=1.2)
        if rows:
            dot: dict[str, Any] = {"marker": "o", "mfc": fill, "markersize": 5, "label": label}
            axes.plot(planned, errors, color=INK, linestyle="", clip_on=False, **dot)
    for word, marker in (("missed", "X"), ("not perceived", "$?$")):
        at_s = [row.planned_s for row in judged.verdicts if row.word == word]
        if at_s:
            mark: dict[str, Any] = {"marker": marker, "markersize": 9, "mec": INK, "label": word}
            at_zero = np.zeros(len(at_s))
            axes.plot(at_s, at_zero, color=PAPER, linestyle="", clip_on=False, **mark)
    _names(axes, judged.verdicts)
    axes.set_ylabel("early (−), late (+), s", fontsize=LETTERS)


def _names(axes: Axes, rows: Sequence[Verdict]) -> None:
    """Each checkpoint's name beside its error, with the error where it is not on time."""
    longest = LETTER * max((len(row.name) for row in rows), default=0)
    box = axes.get_window_extent()
    wide, tall = box.width / axes.figure.dpi, box.height / axes.figure.dpi
    closest = min((b.planned_s - a.planned_s for a, b in pairwise(rows)), default=math.inf)
    # Names side by side would run into each other where checkpoints follow closely, and so would
    # two lines where they follow more closely still.
    apart = closest / axes.get_xlim()[1] * wide
    upright = apart < longest
    named = {
        row: row.name
        if row.error_s is None or not row.meaning or apart < 4.0 * LETTER
        else f"{row.name}\n{row.error_s:+.1f}"
        for row in rows
    }
    errors = {row: row.error_s or 0.0 for row in rows}
    low, high = min(0.0, -0.5, *errors.values()), max(0.0, 0.5, *errors.values())
    room = 0.25 + (longest if upright else 4.0 * LETTER)
    margin = (high - low) * room / max(tall - 2.0 * room, 0.15 * tall)
    axes.set_ylim(low - margin, high + margin)
    for row, name in named.items():
        late = errors[row] >= 0.0
        axes.annotate(
            name,
            (row.planned_s, errors[row]),
            xytext=(0, 8 if late else -8),
            textcoords="offset points",
            ha="center",
            va="bottom" if late else "top",
            rotation=90 if upright else 0,
            fontsize=LETTERS,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.8},
        )


def _trace(axes: Axes, judged: Debrief, column: str, label: str) -> None:
    """The flight's trace with its planned checkpoints and the taps where they fell on it.

    Between a checkpoint and its tap there is a band: so much of the flight was early or late.
    """
    trace = judged.run.trace
    axes.set_ylabel(label, fontsize=LETTERS)
    if not trace.get("t_s"):
        return
    flown = [time / judged.run.pace for time in trace["t_s"]]

    def height(at: Sequence[float]) -> npt.NDArray[np.float64]:
        return np.interp(at, flown, trace[column])

    axes.plot(flown, trace[column], color=GREY, linewidth=1.3)
    for row in judged.verdicts:
        if row.tapped_s is not None and row.word != "on time":
            axes.axvspan(row.planned_s, row.tapped_s, color=BAND, linewidth=0.0)
    planned = [moment.time_s / judged.run.pace for moment in judged.run.moments]
    tapped = [tap.time_s for tap in judged.taps]
    circle: dict[str, Any] = {"marker": "o", "mfc": PAPER, "markersize": 7, "label": "planned"}
    stroke: dict[str, Any] = {"marker": "|", "mew": 1.8, "markersize": 13, "label": "tap"}
    for times, mark in ((planned, circle), (tapped, stroke)):
        (marks,) = axes.plot(times, height(times), color=INK, linestyle="", **mark)
        if times:  # each is whole, on the edge too
            marks.set_clip_on(False)
    room_for_trace(axes)


def _seams(axes: Axes, run: Run) -> None:
    """A thin line where one loop ends and the next begins."""
    for moment, following in pairwise(run.moments):
        if following.loop != moment.loop:
            at = moment.time_s / run.pace
            axes.axvline(at, color=GREY, **SEAM, zorder=0)


def _above(axes: Axes) -> dict[str, Any]:
    return {
        "transform": axes.get_xaxis_transform(),
        "ha": "center",
        "va": "bottom",
        "fontsize": LETTERS,
        "color": INK,
    }
