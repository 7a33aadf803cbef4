"""The track over the ground: with the wind, the checkpoints, and what it is flown by."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from itertools import product
from typing import Any

import numpy as np

from coach.drawing.figure import dot, plain
from coach.drawing.labels import Lettering, Place, Space
from coach.drawing.palette import FIELD, FLOWN, INK, LAND, LOOPS, SMALL, SOFT
from coach.drawing.plotting import Axes, Bbox, Polygon
from coach.flight.flight import Flight
from coach.flight.ground import GroundReference, ground_references
from coach.flight.history import Floats
from coach.script.quantities import KNOT

ARROW = 40.0
"""Length of the wind's arrow, points."""

ROOM = 0.1
"""Room around the track as a share of its greater extent: equal scales take a mere margin away."""


def shape(flight: Flight) -> float:
    """How wide the track is for its height, east to west over north to south."""
    table = flight.table()
    return float(np.ptp(table["east_ft"]) / max(float(np.ptp(table["north_ft"])), 1.0))


def loop_line(flight: Flight, loop: int) -> dict[str, Any]:
    """How a loop is drawn, on the ground or before the nose."""
    return LOOPS[flight.sides[loop - 1] != flight.sides[0]]


IN_BRIEF = Lettering()


def draw_track(axes: Axes, flight: Flight, letters: Lettering = IN_BRIEF) -> Callable[[], None]:
    """Draw the track, north up and to scale.

    Returns:
        What writes on it and points out the wind, once the figure keeps its limits.
    """
    track = _track(flight)
    for loop in range(1, len(flight.sides) + 1):
        flown = track[flight.table()["loop"] == loop]
        axes.plot(flown[:, 0], flown[:, 1], **loop_line(flight, loop), linewidth=FLOWN)
    for one in ground_references(flight):
        _draw_reference(axes, one)
    for place, _ in _checkpoints(flight, letters):
        dot(axes, *place, letters.dot)
    room = ROOM * max(float(np.ptp(track, axis=0).max()), 1.0)
    axes.update_datalim([track.min(axis=0) - room, track.max(axis=0) + room])
    if not letters.on_card:
        axes.set_title("The track over the ground, north up", fontsize=10)
        axes.set_xlabel("feet east of the start", fontsize=letters.size)
        axes.set_ylabel("feet north of the start", fontsize=letters.size)
    axes.margins(0.02)
    axes.set_aspect("equal", adjustable="datalim")
    plain(axes, letters.size if letters.on_card else SMALL)
    return partial(_label, axes, flight, letters)


def _label(axes: Axes, flight: Flight, letters: Lettering) -> None:
    """Write and point out everything where there is room."""
    track, along = _track(flight), flight.conditions.heading
    references = ground_references(flight)
    space = Space(axes, [track, *(np.array(one.corners) for one in references)])
    if letters.on_card:
        space.keep_free(place for place, _ in _checkpoints(flight, letters))
    if flight.conditions.wind_speed > 0.5 * KNOT:
        _wind(axes, flight, space, letters.size)
    axes.annotate(
        "", (0.0, 0.0), (-24.0 * math.sin(along), -24.0 * math.cos(along)),
        textcoords="offset points", arrowprops={"arrowstyle": "->", "color": INK},
    ).set_in_layout(False)  # fmt: skip
    back = -space.point * np.array([math.sin(along), math.cos(along)])
    origin = axes.transData.transform((0.0, 0.0))
    arrow = axes.transData.inverted().transform([origin + far * back for far in range(0, 25, 6)])
    places = [(float(east), float(north)) for east, north in arrow]
    space.keep_free(places)  # so that no word is struck through
    space.keep_free(one.corners[0] for one in references if len(one.corners) == 1)
    space.write("start", places[3], letters.size, INK)
    # A place that is passed several times has its names one below another.
    named: list[tuple[Place, list[str]]] = []
    near = 0.04 * float(np.ptp(track, axis=0).max())
    for place, name in _checkpoints(flight, letters):
        here = [names for other, names in named if math.dist(place, other) < near]
        if not name:
            continue
        if here:
            here[0].append(name)
        else:
            named.append((place, [name]))
    for place, names in named:
        space.write("\n".join(names), place, letters.size, INK, letters.far)
    for one in references:
        if any(
            one.name in name.split("\n") for _, names in named for name in names
        ):  # a checkpoint on it says it already
            continue
        at = np.clip(np.mean(one.corners, axis=0), *np.array(axes.viewLim.get_points()))
        space.write(one.name, (float(at[0]), float(at[1])), letters.size, SOFT, letters.far)


def _track(flight: Flight) -> Floats:
    """East and north, ft, shape (n, 2)."""
    table = flight.table()
    return np.column_stack([table["east_ft"], table["north_ft"]])


def _checkpoints(flight: Flight, letters: Lettering) -> list[tuple[Place, str]]:
    """Where each checkpoint is, and what is to be written there, if anything."""
    rows = flight.at([moment.time_s for moment in flight.moments])
    places = zip(rows["east_ft"].tolist(), rows["north_ft"].tolist(), strict=True)
    return [
        (place, letters.told(moment) if moment.loop in letters.loops else "")
        for place, moment in zip(places, flight.moments, strict=True)
    ]


def _draw_reference(axes: Axes, one: GroundReference) -> None:
    """Something on the ground, to scale where it has a size."""
    east, north = zip(*one.corners, strict=True)
    if one.name == "field":
        axes.add_patch(Polygon(one.corners, facecolor=FIELD, edgecolor=LAND, zorder=0))
    elif one.name == "line":  # it goes on beyond the picture
        way = np.subtract(one.corners[1], one.corners[0])
        near = (float(way[0] / np.hypot(*way)), float(way[1] / np.hypot(*way)))
        axes.axline((0.0, 0.0), near, color=LAND, linewidth=3.0, zorder=0)
    elif one.name == "runway":
        axes.plot(east, north, color=LAND, linewidth=6.0, solid_capstyle="butt", zorder=0)
    else:
        marker = "^" if one.name == "pylon" else "X"
        axes.plot(east, north, marker, color=LAND, markersize=9, zorder=0)


def _wind(axes: Axes, flight: Flight, space: Space, letters: float) -> None:
    """The way the wind blows, and how much, in the corner where there is most room."""
    east, north = (part / flight.conditions.wind_speed for part in flight.conditions.wind)
    wide, tall = 1.8 * ARROW, 1.6 * ARROW
    corners = list(product((0.0, 1.0), (1.0, 0.0)))
    size = np.array([wide, tall]) * space.point
    low = np.array(space.frame.min)
    span = np.array(space.frame.max) - low - size
    boxes = [Bbox.from_bounds(*(low + span * corner), *size) for corner in corners]
    chosen = boxes[space.take(boxes)]
    middle, half = (chosen.min + 0.5 * size) / space.point, 0.5 * ARROW
    origin = axes.transAxes.transform((0.0, 0.0)) / space.point
    at = (float(middle[0] - origin[0]), float(middle[1] - origin[1]) + 6.0)  # words are below it
    tip = (at[0] + half * east, at[1] + half * north)
    axes.annotate(
        "", tip, (at[0] - half * east, at[1] - half * north), xycoords="axes points",
        textcoords="axes points",
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.6},
    ).set_in_layout(False)  # fmt: skip
    knots = flight.conditions.wind_speed / KNOT
    axes.annotate(
        f"wind {knots:.0f} kt", (at[0], at[1] - half * abs(north) - 6.0), xycoords="axes points",
        ha="center", va="top", fontsize=letters, color=INK,
    ).set_in_layout(False)  # fmt: skip
