"""The soundtrack as one picture: a spectrogram in lines, like a page of music."""

from __future__ import annotations

import math
import textwrap
from itertools import pairwise
from typing import Any

import numpy as np

from coach.callouts.cuesheet import CueSheet
from coach.drawing.figure import WIDE, Target, picture, plain
from coach.drawing.palette import INK, LETTERS, SMALL, TICK_MARK, TONE_MARK
from coach.drawing.plotting import Axes
from coach.sound.clip import Floats
from coach.sound.soundtrack import TICK, Soundtrack

BEFORE_S = 4.0
"""The picture begins so long before the maneuver, with the count-in."""

LINE_S, MOST_LINES = 18.0, 12
"""Seconds in a line; more where the soundtrack would take too many lines."""

_MARKS: dict[str, dict[str, Any]] = {
    "tone": {"color": TONE_MARK, "linewidth": 2.0},
    "tick": {"color": TICK_MARK, "linewidth": 1.2},
}
_COLUMNS, _ROWS, _WINDOW = 1400, 240, 2048
_LEAST_HZ, _MOST_HZ = 60.0, 8000.0
_SOFTEST_DB, _LOUDEST_DB = -105.0, -40.0
_LINE_LETTERS = 150  # that a caption as wide as a line would have
_MARGIN = 0.09  # of a line, to its right: room for the end of a caption


def draw(soundtrack: Soundtrack, sheet: CueSheet, target: Target) -> None:
    """Draw how the soundtrack is heard from the count-in on.

    Args:
        soundtrack: what is heard.
        sheet: what it was mixed from, for the captions and the marks.
        target: where to.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    start = max(0.0, sheet.flight_start_s - BEFORE_S)
    whole = soundtrack.length_s - start
    lines = min(MOST_LINES, math.ceil(whole / LINE_S))
    high = 1.0 + 1.9 * lines
    edges = np.linspace(start, soundtrack.length_s, lines + 1)
    with picture(target, WIDE, high, layout=None) as figure:
        figure.subplots_adjust(0.06, 0.5 / high, 1.0 - _MARGIN, 1.0 - 0.5 / high, hspace=0.5)
        panels = np.atleast_1d(figure.subplots(lines, 1))
        for axes, (begin, end) in zip(panels, pairwise(edges), strict=True):
            _spectrogram(axes, soundtrack, begin, end, sheet.flight_start_s)
            _marks(axes, sheet, begin, end)
            _captions(axes, sheet, begin, end)
            plain(axes)
            axes.set_ylabel("Hz", fontsize=LETTERS)
        axes.set_xlabel("seconds from the start of the maneuver", fontsize=LETTERS)
        for kind, look in _MARKS.items():
            axes.plot([], [], **look, label=kind)
        figure.legend(loc="lower right", ncols=2, fontsize=SMALL, frameon=False)


def _spectrogram(axes: Axes, soundtrack: Soundtrack, begin: float, end: float, zero: float) -> None:
    """Both ears' power, the darker the louder."""
    rows = np.geomspace(_LEAST_HZ, _MOST_HZ, _ROWS + 1)
    columns = np.linspace(begin, end, _COLUMNS + 1)
    middles = 0.5 * (columns[1:] + columns[:-1])
    axes.pcolormesh(
        columns - zero,
        rows,
        _decibels(soundtrack, middles, np.sqrt(rows[1:] * rows[:-1])),
        cmap="Greys", vmin=_SOFTEST_DB, vmax=_LOUDEST_DB, rasterized=True,
    )  # fmt: skip
    axes.set_yscale("log")
    axes.set_yticks([100, 300, 1000, 3000], ["100", "300", "1,000", "3,000"])
    axes.minorticks_off()
    axes.set_xlim(begin - zero, end - zero)


def _marks(axes: Axes, sheet: CueSheet, begin: float, end: float) -> None:
    """A mark on the upper edge for every tone and tick."""
    for cue in sheet.cues:
        if cue.tone is not None and begin <= cue.start_s < end:
            kind, low = ("tick", 0.95) if cue.tone == TICK else ("tone", 0.88)
            axes.plot(
                [cue.start_s - sheet.flight_start_s] * 2, [1.0, low],
                transform=axes.get_xaxis_transform(), **_MARKS[kind],
            )  # fmt: skip


def _captions(axes: Axes, sheet: CueSheet, begin: float, end: float) -> None:
    """What is said, above where it begins and wrapped before the next caption."""
    spoken = [(cue.start_s, cue.phrase.text) for cue in sheet.cues if cue.phrase is not None]
    edge = end + _MARGIN * (end - begin)
    for (start, text), (following, _) in pairwise([*spoken, (edge, "")]):
        if begin <= start < end:
            room = (min(following, edge) - start) / (end - begin)
            axes.text(
                start - sheet.flight_start_s, 1.02,
                textwrap.fill(text, max(8, int(room * _LINE_LETTERS))),
                transform=axes.get_xaxis_transform(), fontsize=7.5, color=INK, linespacing=1.0,
            )  # fmt: skip


def _decibels(soundtrack: Soundtrack, at: Floats, hz: Floats) -> Floats:
    """Power at these frequencies (rows) and around these seconds (columns), dB of full scale."""
    window = np.hanning(_WINDOW)
    known = np.fft.rfftfreq(_WINDOW, 1.0 / soundtrack.rate)
    out = np.empty((len(hz), len(at)))
    for column, second in enumerate(at):
        first = round(second * soundtrack.rate) - _WINDOW // 2
        heard = soundtrack.frames(first, _WINDOW) * window[:, None]
        power = (np.abs(np.fft.rfft(heard, axis=0) / window.sum()) ** 2).sum(axis=1)
        out[:, column] = np.interp(hz, known, 10.0 * np.log10(power + 1e-15))
    return out
