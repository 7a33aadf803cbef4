"""Where the nose points, over the horizon and the references outside."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import Any

import numpy as np

from coach.drawing.figure import dot, plain
from coach.drawing.labels import Lettering, Place, Space
from coach.drawing.palette import EARTH, FLOWN, INK, LETTERS, SMALL, SOFT
from coach.drawing.plotting import Axes
from coach.drawing.track import loop_line
from coach.flight.flight import Flight
from coach.flight.history import Floats
from coach.words import numbered, side_of, three_figures

IN_BRIEF = Lettering(loops=(1, 3))


def draw_nose(
    axes: Axes, flight: Flight, letters: Lettering = IN_BRIEF, *, upright: bool = False
) -> Callable[[], None]:
    """Draw it: heading across, pitch up and down, the references as posts.

    Returns:
        What writes the checkpoints' names, once the figure keeps its limits.
    """
    table, lines, dots = flight.table(20.0), list[Floats](), list[Place]()
    named = list[tuple[str, Place]]()
    entry = float(np.degrees(flight.conditions.heading))
    for loop in range(1, len(flight.sides) + 1):
        chosen = table["loop"] == loop
        heading = np.degrees(np.unwrap(np.radians(table["heading_deg"][chosen]))) - entry
        # Loops are joined where they meet, on the turn of the full circle nearest to the entry.
        heading -= 360.0 * np.round(heading.mean() / 360.0)
        axes.plot(heading, table["pitch_deg"][chosen], **loop_line(flight, loop), linewidth=FLOWN)
        lines.append(np.column_stack([heading, table["pitch_deg"][chosen]]))
        for moment in flight.moments:
            if moment.loop == loop:
                at = (moment.heading_deg - entry - heading.mean() + 180.0) % 360.0 - 180.0
                place = (float(at + heading.mean()), moment.pitch_deg)
                dot(axes, *place, letters.dot)
                dots.append(place)
                if loop in letters.loops:
                    named.append((letters.told(moment), place))
    low, high = axes.get_ylim()
    low -= 0.3 * (high - low) if letters.on_card else 0.0  # for labels below
    axes.set_ylim(low, high + 0.25 * (high - low))
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.axhspan(low, 0.0, color=EARTH, zorder=0)
    left, right = axes.get_xlim()
    posts = {
        round(heading_deg - entry + turn): (name, three_figures(heading_deg))
        for name, heading_deg in flight.references()
        for turn in (-360.0, 0.0, 360.0)
        if left <= heading_deg - entry + turn <= right
    }
    if letters.on_card:
        axes.set_xticks(
            list(posts), ["\n".join((*textwrap.wrap(name, 9), at)) for name, at in posts.values()]
        )
    elif upright:
        axes.set_xticks(list(posts), [", ".join(label) for label in posts.values()], rotation=90)
    else:
        axes.set_xticks(list(posts), ["\n".join((f"{at:+d}°", *posts[at])) for at in posts])
        axes.set_title("Where the nose points, against the outside references", fontsize=10)
    axes.grid(axis="x", color=SOFT, linewidth=0.6, linestyle=":")
    axes.set_ylabel("nose above level, deg", fontsize=letters.size)
    for side, name in ((flight.sides[0], "first side"), (-flight.sides[0], "other side")):
        if side in flight.sides:
            loops = [n + 1 for n, one in enumerate(flight.sides) if one == side]
            label = f"turning {side_of(side)}, {name} ({numbered('loop', loops)})"
            axes.plot([], [], **loop_line(flight, flight.sides.index(side) + 1), label=label)
    # Where it is narrow, the legend would hide the path.
    above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0)}
    within: dict[str, Any] = {"loc": "upper center", "ncols": 2}
    axes.legend(
        **(above if upright or letters.on_card else within), fontsize=letters.size, frameon=False
    )
    plain(axes, SMALL if letters.size == LETTERS else letters.size)
    across = np.linspace(left, right, 500)
    lines.append(np.column_stack([across, np.zeros_like(across)]))

    def label_all() -> None:
        space = Space(axes, lines)
        if letters.on_card:
            space.keep_free(dots)
        for name, place in named:
            space.write(name, place, letters.size, INK, letters.far)

    return label_all
