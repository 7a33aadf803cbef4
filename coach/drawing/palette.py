"""How every picture looks: its colours and greys, its letters, and its lines.

Nothing is told by a colour alone: what has one is dashed, longer or named as well.
"""

from __future__ import annotations

from typing import Any

_BLUE, _RUST = "#1f4e79", "#b5541c"

PAPER = "#ffffff"
INK = "#1b1b1b"
"""Letters, and what is meant exactly: checkpoints, taps, a brief's traces."""

GREY = "#767676"
"""What is judged against: a debrief's traces, zero, seams; a report's rules."""

SOFT = "#6f6f6f"
"""What guides the eye in a brief: references and seams, and names of places on the ground."""

BAND = "#e4e4e4"
"""What is near enough, or how much of the flight an error was."""

EARTH = "#efefef"
"""What is below the horizon."""

LAND, FIELD = "#b9b3a5", "#f1eee6"
"""What is on the ground, and what is within its edges."""

TRACK, OTHER_TRACK = _BLUE, _RUST
"""The track, or the nose's path, of loops to the first side, and of those to the other."""

TICK_MARK, TONE_MARK = _BLUE, _RUST
"""What stands in a soundtrack for a tick and a tone."""

STUDENTS = _BLUE
"""Everybody's taps."""

SMALL, LETTERS, LARGE = 8, 9, 14
"""Sizes of letters in points: along the axes; on a panel; the title."""

LOOPS: tuple[dict[str, Any], ...] = (
    {"color": TRACK, "linestyle": "-"},
    {"color": OTHER_TRACK, "linestyle": "--"},
)
"""The line of a loop to the first side, and of one to the other."""

FLOWN = 1.8
"""The width of such a line, points."""

SEAM: dict[str, Any] = {"linewidth": 0.7, "linestyle": ":"}
"""The line where one loop ends and the next begins, or at a reference."""
