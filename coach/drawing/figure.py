"""What the pictures have in common: their paper, their axes, and how they are written to a file.

The drawing library is imported when something is drawn, and not before: that takes longer than a
whole debrief in words.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Literal

from coach.drawing.palette import INK, LARGE, PAPER, SMALL
from coach.problems import ending, written

if TYPE_CHECKING:
    from coach.drawing.plotting import Axes, Figure

Layout = Literal["constrained"] | None

Target = Path | BinaryIO
"""Where a picture goes: a file whose name ends in ``.png`` or ``.svg``, or what takes an SVG."""

WIDE, NARROW = 11.0, 3.6
"""Inches across: on a page to be printed, and upright on a phone."""

LEAST_RANGE = 10.0
"""No trace shows less than this from bottom to top, in its own unit."""

_UNSAID: dict[str, tuple[str, ...]] = {
    "png": ("Software",),
    "svg": ("Date", "Creator", "Format", "Type"),
    "pdf": ("CreationDate", "Creator", "Producer"),
}
"""What a drawing's file would tell about when and with what it was made."""


def blank(wide: float, high: float, layout: Layout = "constrained") -> Figure:
    """Paper of this size in inches, on which panels find their places unless told otherwise."""
    from coach.drawing.plotting import Figure

    return Figure(figsize=(wide, high), layout=layout, facecolor=PAPER)


@contextlib.contextmanager
def picture(
    target: Target,
    wide: float,
    high: float,
    layout: Layout = "constrained",
    endings: Sequence[str] = (".png", ".svg"),
) -> Iterator[Figure]:
    """Paper to draw on, which is then written.

    Args:
        target: where to.
        wide: its width, inches.
        high: its height, inches.
        layout: as for `blank`.
        endings: how the name of a file may end.

    Raises:
        Problem: another ending, or the file cannot be written.
    """
    form = ending(target, *endings) if isinstance(target, Path) else ".svg"
    from coach.drawing.plotting import own_settings

    # In memory first: the drawing library does not tell in words when a disk is full.
    drawn = io.BytesIO()
    with own_settings():
        figure = blank(wide, high, layout)
        yield figure
        save(figure, drawn, form[1:])
    if isinstance(target, Path):
        with written(target) as part:
            part.write_bytes(drawn.getvalue())
    else:
        target.write(drawn.getvalue())


def save(figure: Figure, target: BinaryIO, form: str, **metadata: str) -> None:
    """Write a drawing, the same bytes whenever it is drawn, within its `own_settings`.

    Args:
        figure: the drawing.
        target: where to.
        form: ``"png"``, ``"svg"`` or ``"pdf"``.
        **metadata: what the file shall tell about itself.
    """
    told: dict[str, Any] = {**dict.fromkeys(_UNSAID[form]), **metadata}
    figure.savefig(target, format=form, dpi=130, metadata=told)


def head(figure: Figure, title: str, size: int = LARGE) -> None:
    """Write the title."""
    figure.suptitle(title, color=INK, fontsize=size, parse_math=False)


def foot(figure: Figure, words: str, size: int, *, wrap: bool = False) -> None:
    """Write what stands below all panels."""
    figure.supxlabel(words, color=INK, fontsize=size, parse_math=False, wrap=wrap)


def plain(axes: Axes, size: float = SMALL) -> None:
    """No more frame than is needed."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=size)


def room_for_trace(axes: Axes) -> None:
    """Leave room above and below a trace; what is held is not to look like a wave."""
    axes.margins(y=0.15)
    axes.ticklabel_format(axis="y", useOffset=False)
    low, high = axes.get_ylim()
    wide = max(0.0, LEAST_RANGE - (high - low)) / 2.0
    axes.set_ylim(low - wide, high + wide)


def dot(axes: Axes, x: float, y: float, size: float = 4.0, *, clip_on: bool = True) -> None:
    """Mark a checkpoint; one on the edge of the panel is whole where nothing is clipped there."""
    axes.plot(x, y, "o", color=INK, markersize=size, clip_on=clip_on)
