"""The debrief as one printable picture: errors, and taps over the speed and bank traces.

Its seconds are the student's own: at half pace the traces are twice as long as they were flown.
"""

from __future__ import annotations

import math
import statistics
import textwrap
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from coach.debrief.debrief import Debrief
from coach.debrief.limits import ON_TIME_S
from coach.debrief.verdict import Verdict
from coach.debrief.words import facts
from coach.drawing.figure import NARROW, WIDE, Target, foot, head, picture, plain, room_for_trace
from coach.drawing.hand import draw_hand
from coach.drawing.palette import BAND, GREY, INK, LETTERS, PAPER, SEAM
from coach.logbook.run import Run
from coach.words import CAUTION, titled

if TYPE_CHECKING:
    from coach.drawing.plotting import Axes, Figure

How = Literal["key", "voice", "hand"]

MARKS: dict[How, dict[str, Any]] = {
    "hand": {"marker": "s", "mfc": PAPER, "markersize": 7, "label": "hand's error"},
    "key": {"marker": "o", "mfc": INK, "markersize": 5, "label": "tap's error"},
    "voice": {"marker": "o", "mfc": PAPER, "markersize": 5, "label": "word's error"},
}
"""What is drawn at an error."""

PANELS = (1.5, 1.1, 1.0)
"""The heights of the three panels, to each other."""

BEYOND = 0.0075
"""What is shown after the last moment, as a share of all before it."""

LEGEND_BELOW, BELOW = 0.42, 0.92
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
        panels(figure, judged)


def panels(figure: Figure, judged: Debrief, **places: float) -> None:
    """Draw the three panels, one below another, and their legend, which takes `BELOW` more.

    Errors in seconds are above; where a hand flew, its pitch and bank are below, else airspeed and
    bank of the flight.

    Args:
        figure: what is drawn on.
        judged: the run.
        **places: where the panels are, as shares of the figure; without them there is nothing else
            on it.
    """
    from coach.drawing.plotting import ScaledTranslation

    run = judged.run
    grid = figure.add_gridspec(3, 1, height_ratios=PANELS, **places)
    top, middle, bank = grid.subplots(sharex=True, squeeze=False)[:, 0]
    ends = [moment.time_s for moment in run.moments] + run.trace.get("t_s", []) + [1.0]
    taps = [0.0, *(tap.time_s for tap in judged.taps)]
    last = max(max(ends) / run.pace, *taps)
    bank.set_xlim(min(taps), last * (1.0 + BEYOND))
    _errors(top, judged)
    later: list[Callable[[], None]] = []
    if hand := judged.hand:
        later = [draw_hand(middle, judged, hand, "pitch"), draw_hand(bank, judged, hand, "bank")]
    else:
        _trace(middle, judged, "ias_kt", "airspeed, kt")
        _trace(bank, judged, "bank_deg", "bank, deg")
        bank.axhline(0.0, color=GREY, linewidth=0.6)
    for axes in (top, middle, bank):
        _seams(axes, run)
        plain(axes, LETTERS)
    loops = {moment.loop for moment in run.moments}
    for loop in loops if len(loops) > 1 else ():
        times = [moment.time_s / run.pace for moment in run.moments if moment.loop == loop]
        top.text(statistics.fmean(times), 1.0, f"loop {loop}", **_above(top))
    if run.ended != "finished":
        end = run.reached_s / run.pace
        for axes in (top, middle, bank):
            axes.axvline(end, color=INK, linewidth=1.0, linestyle="--")
        top.text(end, 0.97, f" {run.ended}", **{**_above(top), "ha": "left", "va": "top"})
    # Short enough for a phone.
    seconds = "seconds from the start of the maneuver"
    own = "your own seconds from the start"
    bank.set_xlabel(seconds if run.pace == 1.0 else own, fontsize=LETTERS)
    named: dict[str, Any] = {}
    for axes in (top, middle):
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
        handlelength=1.5,
        fontsize=LETTERS,
        frameon=False,
    )
    for write in later:
        write()


def _errors_s(row: Verdict) -> dict[How, float]:
    """How late a checkpoint was tapped or named, and how late the hand was; own seconds.

    Of an attitude that is right the seconds say nothing: it may hardly change there.
    """
    found: dict[How, float] = {}
    if row.flown and row.flown.word != "wrong" and row.flown.late_s is not None:
        found["hand"] = 0.0 if row.flown.word == "on time" else row.flown.late_s
    if row.how and row.error_s is not None:
        found[row.how] = row.error_s
    return found


def _errors(axes: Axes, judged: Debrief) -> None:
    """A stem for each tap and each deed of a hand, late upwards; a mark for what is not there."""
    axes.axhspan(-ON_TIME_S, ON_TIME_S, color=BAND, label=f"on time (within {ON_TIME_S:g} s)")
    axes.axhline(0.0, color=INK, linewidth=0.8)
    for how, look in MARKS.items():
        found = [
            (row.planned_s, errors[how])
            for row in judged.verdicts
            if how in (errors := _errors_s(row))
        ]
        if found:
            planned, late = zip(*found, strict=True)
            axes.vlines(planned, 0.0, late, color=INK, linewidth=1.2)
            axes.plot(planned, late, color=INK, linestyle="", clip_on=False, **look)
    for word, marker in (("missed", "X"), ("not perceived", "D")):
        at_s = [row.planned_s for row in judged.verdicts if row.word == word]
        if at_s:
            mark: dict[str, Any] = {"marker": marker, "markersize": 8, "mec": INK, "label": word}
            at_zero = np.zeros(len(at_s))
            axes.plot(at_s, at_zero, color=PAPER, linestyle="", clip_on=False, **mark)
    _names(axes, judged.verdicts)
    tall = axes.get_window_extent().height / axes.figure.dpi
    words = "early (−), late (+), s"
    axes.set_ylabel(words if len(words) * LETTER < tall else "late (+), s", fontsize=LETTERS)


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
    errors = {row: [0.0, *_errors_s(row).values()] for row in rows}
    worst = {row: max(found, key=abs) for row, found in errors.items()}
    early = {row for row in rows if worst[row] < -ON_TIME_S}
    named = {
        row: row.name
        if not _is_off(row) or apart < 4.0 * LETTER
        else f"{row.name}\n{worst[row]:+.1f}".replace("-", "\N{MINUS SIGN}")
        for row in rows
    }
    low, high = min([-0.5, *worst.values()]), max([0.5, *worst.values()])
    room = 0.25 + (longest if upright else 4.0 * LETTER)
    below = room if early else 0.1
    inch = (high - low) / max(tall - room - below, 0.3 * tall)
    axes.set_ylim(low - below * inch, high + room * inch)
    for row, name in named.items():
        axes.annotate(
            name,
            (row.planned_s, min(errors[row]) if row in early else max(errors[row])),
            xytext=(0, -8 if row in early else 8),
            textcoords="offset points",
            ha="center",
            va="top" if row in early else "bottom",
            rotation=90 if upright else 0,
            fontsize=LETTERS,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.8},
        )


def _is_off(row: Verdict) -> bool:
    """Whether something about a checkpoint was early or late."""
    return bool(row.meaning) or (row.flown is not None and row.flown.word in ("early", "late"))


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
        if row.tapped_s is not None and row.meaning:
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
