"""What shows over the nose, drawn in characters: the land's edge, and a mark for the nose."""

from __future__ import annotations

import math

_SPAN_DEG = 50.0  # of pitch, from the picture's lowest row to its highest
_STEEPEST_DEG = 80.0  # a steeper bank is drawn as this one
_LEVELS = "▁▂▃▄▅▆▇█"  # a cell filled from below, in eighths
_PLAIN_LEVELS = "__.--==:"
NOSE = " ▟▙ "
PLAIN_NOSE = " /\\ "
OWN = "━"
PLAIN_OWN = "+"


def horizon(
    pitch_deg: float,
    bank_deg: float,
    width: int,
    height: int,
    plain: bool = False,
    own: tuple[float, float] | None = None,
) -> list[str]:
    """The land below the horizon as filled cells, the sky empty, the nose in the middle.

    Banking right raises the land on the right; raising the nose sinks the land. A cell is taken as
    twice as high as wide. The horizon never leaves the picture: past its edge it stays there.

    Args:
        pitch_deg: above level, in degrees.
        bank_deg: right positive, in degrees.
        width: columns, at least 4.
        height: rows.
        plain: ASCII only.
        own: another pitch and bank, whose horizon is drawn over it as a line.

    Returns:
        ``height`` strings of ``width`` characters.
    """
    levels = _PLAIN_LEVELS if plain else _LEVELS
    tops = _tops(pitch_deg, bank_deg, width, height)
    lines = _tops(*own, width, height) if own else [-1.0] * width
    line = PLAIN_OWN if plain else OWN
    rows = []
    for row in range(height):
        floor = height - 1 - row
        rows.append(
            "".join(
                line if math.floor(over) == floor else _cell(top - floor, levels)
                for top, over in zip(tops, lines, strict=True)
            )
        )
    nose = PLAIN_NOSE if plain else NOSE
    left = (width - len(nose)) // 2
    middle_row = rows[height // 2]
    rows[height // 2] = middle_row[:left] + nose + middle_row[left + len(nose) :]
    return rows


def _tops(pitch_deg: float, bank_deg: float, width: int, height: int) -> list[float]:
    """How high the land is, in rows above the picture's lower edge, column by column."""
    reach = 0.9 * _SPAN_DEG / 2
    bank = math.radians(max(-_STEEPEST_DEG, min(_STEEPEST_DEG, bank_deg)))
    sunk = max(-reach, min(reach, pitch_deg)) / _SPAN_DEG * height
    middle = height - height // 2 - 0.5
    rights = [(column + 0.5 - width / 2) / 2 for column in range(width)]
    return [middle - (sunk - right * math.sin(bank)) / math.cos(bank) for right in rights]


def _cell(share: float, levels: str) -> str:
    """One cell of which ``share`` is land, counted from below."""
    eighths = round(8 * max(0.0, min(1.0, share)))
    return levels[eighths - 1] if eighths else " "
