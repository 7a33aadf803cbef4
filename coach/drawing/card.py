"""The brief as a small card: half a letter sheet, the size of a kneeboard, printed two on a sheet.

That is the paper of the country whose standards the maneuvers are flown by; on A4, two go on a
sheet as well. What has to be read is seven points high, and what stands on the drawing six.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from coach.brief.board import called
from coach.brief.loops import Alike, alike
from coach.brief.warnings import warnings
from coach.brief.words import entry_row, handbook_row, nearest_stall, pitch
from coach.drawing.figure import Target, dot, picture, plain
from coach.drawing.labels import Lettering, Place, Space
from coach.drawing.nose import draw_nose
from coach.drawing.palette import FLOWN, INK, SEAM, SOFT
from coach.drawing.pen import BOLD, USUAL, Pen, wrapped
from coach.drawing.plotting import Axes
from coach.drawing.track import draw_track, loop_line
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.quantities import DEGREE
from coach.script.standards import Checkride, asked_at, not_asked
from coach.words import CAUTION, listed, numbered, side_of

WIDE, HIGH, MARGIN = 5.5, 8.5, 0.35  # inches, as all lengths here
TEXT = WIDE - 2.0 * MARGIN
SIZE, LINE, SMALLEST = 7.0, 0.125, 6.0
"""The letters' size in points, the height of their lines, and the size on the drawing."""

NAMES = 1.0
"""The width of the column of names before texts."""

TITLE, LEGEND = 0.36, 0.3
"""Room for the two lines of the title, and for the legend above the nose's path."""

DRAWING = 2.6
"""The least height of the drawing, to which the words leave what they do not need."""

SCALE, TICKS, POSTS = 0.38, 0.4, 0.55
"""Room left of the drawing and below it: for figures, or for the references' names."""


@dataclass(frozen=True)
class Row:
    """A name, in lines, and the lines beside it, so heavy."""

    name: list[str]
    lines: list[str]
    weight: str

    @property
    def high(self) -> float:
        """Its height, in lines."""
        return max(len(self.name), len(self.lines)) + 0.25


def draw(flight: Flight, target: Target, checkride: Checkride | None = None) -> None:
    """Draw the card; its page grows where a script says very much.

    Args:
        flight: the flight.
        target: where to.
        checkride: the student's, whose limits it has; None for those of every one.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    groups = alike(flight)
    posts = bool(flight.maneuver.references)
    own = handbook_row(flight)
    above = [*_rows("entry", [entry_row(flight)]), *_rows("handbook", [own] if own else [])]
    below = [
        *_rows("WARNING", warnings(flight), "bold"),
        *_aloud(groups),
        *_rows("nearest stall", [nearest_stall(flight)]),
        *_limits(flight, checkride),
        *_rows("cautions", flight.maneuver.cautions),
        *_rows("", [CAUTION], "bold"),
    ]
    head = MARGIN + TITLE + _height(above) + (LEGEND if posts else 0.0)
    foot = MARGIN + _height(below) + (POSTS if posts else TICKS)
    tall = max(HIGH, head + DRAWING + foot)
    with picture(target, WIDE, tall, None, (".pdf", ".png")) as figure:
        pen = Pen(figure, WIDE, tall, MARGIN, SIZE, LINE, y=MARGIN)
        pen.write(MARGIN, [flight.maneuver.title], fontsize=12, fontweight="bold")
        pen.write(MARGIN, [called(flight.airplane)], drop=0.2)
        pen.y += TITLE
        _write(pen, above)
        left, low, high = MARGIN + SCALE, foot / tall, (tall - head - foot) / tall
        axes = figure.add_axes((left / WIDE, low, (WIDE - MARGIN - left) / WIDE, high))
        label = _drawing(axes, flight, groups)
        label()
        pen.y = tall - MARGIN - _height(below)
        _write(pen, below)


def _drawing(axes: Axes, flight: Flight, groups: tuple[Alike, ...]) -> Callable[[], None]:
    """The nose's path where there are references, the track where it turns, else the profile."""
    letters = Lettering(
        size=SMALLEST,
        dot=3.0,
        told=_told,
        loops=[group.loops[0] for group in groups],
        far=(1.0, 2.0, 3.5, 5.5, 8.0),
        on_card=True,
    )
    if flight.maneuver.references:
        return draw_nose(axes, flight, letters)
    if abs(flight.recorded("bank")).max() > 2.0 * DEGREE:
        return draw_track(axes, flight, letters)
    return _profile(axes, flight, letters)


def _told(moment: Moment) -> str:
    """Attitude and speed at a checkpoint, below its name."""
    bank = round(moment.bank_deg)
    attitude = f"{pitch(moment)}°" + (f", {abs(bank)}° {side_of(bank)}" if bank else "")
    return f"{moment.name}\n{attitude}\n{moment.ias_kt:.0f} kt"


def _profile(axes: Axes, flight: Flight, letters: Lettering) -> Callable[[], None]:
    """Altitude over time, for what is flown straight ahead."""
    table = flight.table()
    axes.plot(table["t_s"], table["altitude_ft"], **loop_line(flight, 1), linewidth=FLOWN)
    named: list[tuple[str, Place]] = []
    for moment in flight.moments:
        place = (moment.time_s, moment.altitude_ft)
        dot(axes, *place, letters.dot)
        named.append((letters.told(moment), place))
    axes.margins(x=0.08, y=0.35)
    axes.ticklabel_format(axis="y", useOffset=False)
    axes.set_xlabel("seconds", fontsize=letters.size)
    axes.set_ylabel("altitude, ft", fontsize=letters.size)
    axes.grid(axis="y", color=SOFT, **SEAM)
    plain(axes, letters.size)

    def label() -> None:
        space = Space(axes, [np.column_stack([table["t_s"], table["altitude_ft"]])])
        space.keep_free(place for _, place in named)
        for name, place in named:
            space.write(name, place, letters.size, INK, letters.far)

    return label


def _aloud(groups: tuple[Alike, ...]) -> list[Row]:
    """What is said aloud at each checkpoint."""
    rows: list[Row] = []
    for group in groups:
        told = "at each checkpoint"
        if len(groups) > 1 or len(group.loops) > 1:
            told = f"{numbered('loop', group.loops)}, to the {listed(group.sides)}"
        rows += _rows("say aloud", [told], "bold")
        for call in group.calls:
            rows += _rows(call.name, [call.aloud])
    return rows


def _limits(flight: Flight, checkride: Checkride | None) -> list[Row]:
    """The limits of each checkride, and whether the student's asks for it at all."""
    standards = flight.maneuver.standard
    elsewhere = not_asked(standards, checkride)
    whose: dict[tuple[str, ...], list[str]] = {}
    for one in asked_at(standards, checkride):
        whose.setdefault(tuple(limit.in_short for limit in one.limits), []).append(one.title)
    told = [f"{'; '.join(titles)}: {'; '.join(limits)}" for limits, titles in whose.items()]
    return _rows("limits", [*([elsewhere] if elsewhere else []), *told])


def _rows(name: str, told: Sequence[str], weight: str = "normal") -> list[Row]:
    """A row for each text, the first one with its name."""
    return [
        Row(
            [] if place else wrapped(name, NAMES - 0.05, SIZE, BOLD),
            wrapped(words, TEXT - NAMES, SIZE, BOLD if weight == "bold" else USUAL),
            weight,
        )
        for place, words in enumerate(told)
    ]


def _height(rows: list[Row]) -> float:
    return LINE * sum(row.high for row in rows)


def _write(pen: Pen, rows: list[Row]) -> None:
    for row in rows:
        if row.name:
            pen.rule()
        pen.write(MARGIN, row.name, fontweight="bold")
        pen.write(MARGIN + NAMES, row.lines, fontweight=row.weight)
        pen.down(row.high)
