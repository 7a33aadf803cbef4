"""The debrief as one printable picture: errors, and taps over the speed and bank traces."""

from __future__ import annotations

import statistics
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from coach.caution import CAUTION
from coach.debrief.checkpoints import ON_TIME_S
from coach.debrief.debrief import Debrief, debrief
from coach.logbook.run import Run
from coach.problems import ending, written

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, SOFT, BAND = "#1b1b1b", "#767676", "#e4e4e4"


def draw(run: Run, path: Path) -> None:
    """Draw a run: how early or late each tap was, and where the airplane was then.

    Args:
        run: the run.
        path: where to; ``.png`` or ``.svg``.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    form = ending(path, ".png", ".svg")
    # Imported here: it takes longer than a whole debrief without a picture.
    from matplotlib.figure import Figure

    judged = debrief(run)
    figure = Figure(figsize=(11.0, 7.8), layout="constrained", facecolor="white")
    top, speed, bank = figure.subplots(3, 1, sharex=True, height_ratios=(1.5, 1.2, 1.0))
    figure.suptitle(f"{run.title} — {run.airplane}, {run.started:%Y-%m-%d %H:%M}", color=INK)
    _errors(top, judged)
    _trace(speed, judged, "ias_kt", "indicated airspeed, kt")
    _trace(bank, judged, "bank_deg", "bank, deg (right +)")
    bank.axhline(0.0, color=SOFT, linewidth=0.6)
    for axes in (top, speed, bank):
        _seams(axes, run)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(labelsize=9)
    for loop in {moment.loop for moment in run.moments}:
        times = [moment.time_s for moment in run.moments if moment.loop == loop]
        top.text(statistics.fmean(times), 1.0, f"loop {loop}", **_above(top))
    if run.ended != "finished":
        for axes in (top, speed, bank):
            axes.axvline(run.reached_s, color=INK, linewidth=1.0, linestyle="--")
        top.text(run.reached_s, 0.97, f" {run.ended}", **{**_above(top), "ha": "left", "va": "top"})
    ends = [moment.time_s for moment in run.moments] + run.trace.get("t_s", []) + [1.0]
    bank.set_xlim(0.0, max(ends) + 1.0)
    bank.set_xlabel(
        f"seconds from the start of the maneuver\n\n{judged.next}\n{textwrap.fill(CAUTION, 110)}"
    )
    named: dict[str, Any] = {}
    for axes in (top, speed):
        marks, labels = axes.get_legend_handles_labels()
        named.update(zip(labels, marks, strict=True))
    figure.legend(
        named.values(), named, loc="outside lower center", ncols=6, fontsize=9, frameon=False
    )
    with written(path) as part:
        figure.savefig(part, format=form[1:], dpi=130)


def _errors(axes: Axes, judged: Debrief) -> None:
    """A stem for each tapped checkpoint, late upwards; a cross for each missed one."""
    axes.axhspan(-ON_TIME_S, ON_TIME_S, color=BAND, label=f"on time (within {ON_TIME_S:g} s)")
    axes.axhline(0.0, color=INK, linewidth=0.8)
    tapped = [row for row in judged.rows if row.error_s is not None]
    missed = [row.planned_s for row in judged.rows if row.error_s is None]
    planned, errors = [row.planned_s for row in tapped], [row.error_s or 0.0 for row in tapped]
    axes.vlines(planned, 0.0, errors, color=INK, linewidth=1.2)
    axes.plot(planned, errors, "o", color=INK, markersize=5, label="error")
    if missed:
        cross: dict[str, Any] = {"marker": "X", "markersize": 9, "label": "missed"}
        axes.plot(missed, np.zeros(len(missed)), color="white", mec=INK, linestyle="", **cross)
    # Names side by side would run into each other where checkpoints follow closely.
    upright = max((len(row.name) for row in judged.rows), default=0) > 4
    room = 2.2 if upright else 1.3
    axes.set_ylim(room * min(-1.0, *errors, 0.0), room * max(1.0, *errors, 0.0))
    for row in judged.rows:
        late = (row.error_s or 0.0) >= 0.0
        axes.annotate(
            row.name,
            (row.planned_s, row.error_s or 0.0),
            xytext=(0, 8 if late else -8),
            textcoords="offset points",
            ha="center",
            va="bottom" if late else "top",
            rotation=90 if upright else 0,
            fontsize=9,
            color=INK,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )
    axes.set_ylabel("seconds early (−), late (+)")


def _trace(axes: Axes, judged: Debrief, column: str, label: str) -> None:
    """The flight's trace with its planned checkpoints and the taps where they fell on it.

    Between a checkpoint and its tap the trace is heavy: so much of the flight was early or late.
    """
    trace = judged.run.trace
    axes.set_ylabel(label)
    if not trace.get("t_s"):
        return

    def height(times: Sequence[float]) -> npt.NDArray[np.float64]:
        return np.interp(times, trace["t_s"], trace[column])

    axes.plot(trace["t_s"], trace[column], color=SOFT, linewidth=1.3)
    for row in judged.rows:
        if row.tapped_s is not None:
            between = np.linspace(row.planned_s, row.tapped_s, 30).tolist()
            axes.plot(between, height(between), color=INK, linewidth=3.5)
    planned = [moment.time_s for moment in judged.run.moments]
    circle: dict[str, Any] = {"marker": "o", "mfc": "white", "markersize": 7, "label": "planned"}
    stroke: dict[str, Any] = {"marker": "|", "mew": 1.8, "markersize": 13, "label": "tap"}
    axes.plot(planned, height(planned), color=INK, linestyle="", **circle)
    axes.plot(judged.taps_s, height(judged.taps_s), color=INK, linestyle="", **stroke)
    axes.margins(y=0.15)


def _seams(axes: Axes, run: Run) -> None:
    """A thin line where one loop ends and the next begins."""
    for moment, following in pairwise(run.moments):
        if following.loop != moment.loop:
            axes.axvline(moment.time_s, color=SOFT, linewidth=0.7, linestyle=":", zorder=0)


def _above(axes: Axes) -> dict[str, Any]:
    return {
        "transform": axes.get_xaxis_transform(),
        "ha": "center",
        "va": "bottom",
        "fontsize": 9,
        "color": INK,
    }
